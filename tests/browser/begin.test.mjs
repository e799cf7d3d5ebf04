// A new user with an empty folder and three CSVs: to a verdict, counting clicks, drops and answers. Run by tests/browser/screen.sh.
import assert from 'node:assert/strict';
import { execFileSync, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { chromium } from 'playwright-core';

const program = process.env.PLATEPROOF;
let folder, browser, server, page, trouble, address;

before(async () => {
  folder = mkdtempSync(join(tmpdir(), 'plateproof-begin-'));
  server = spawn(program, ['serve', folder]);
  address = await new Promise(done => server.stdout.on('data', data => {
    const found = String(data).match(/http:\/\/127\.0\.0\.1:\d+\/\?token=[0-9a-f]+/);
    if (found) done(found[0]);
  }));
  browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--headless', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-sync'],
  });
  page = await (await browser.newContext({ viewport: { width: 1280, height: 900 } })).newPage();
  trouble = [];
  page.on('pageerror', e => trouble.push(e.message));
  page.on('console', m => { if (m.type() === 'error') trouble.push(m.text()); });
  await page.goto(address);
  address = new URL('/', address).href;
});
after(async () => { await browser?.close(); server?.kill(); rmSync(folder, { recursive: true, force: true }); });

// 61 holes for 25.4 mm tubes on a triangle of 31.75 mm, in a disc of 400 mm
function holes() {
  const list = [];
  for (let row = -4; row <= 4; row++)
    for (let column = -4; column <= 4; column++) {
      const x = 31.75 * (column + row / 2), y = 31.75 * row * Math.sqrt(0.75);
      if (Math.abs(column + row) <= 4) list.push([`R${row + 5}C${column + 5}`, x, y]);
    }
  return list;
}
const noise = i => ((i * 7919) % 101 - 50) / 5000;
const german = value => value.toFixed(3).replace('.', ',');
const FILES = {
  // a drawing in inches
  'nominal.csv': 'hole,x_in,y_in\n' + holes().map(([name, x, y]) => `${name},${(x / 25.4).toFixed(6)},${(y / 25.4).toFixed(6)}\n`).join(''),
  // a spreadsheet's export: semicolons, decimal commas, byte order mark, headings of its own
  'messung.csv': '\ufeffBohrung;X-Ist;Y-Ist;Durchmesser\r\n' + holes().map(([name, x, y], i) => `${name};${german(x + noise(i))};${german(y + noise(i + 50))};${german(25.7 + noise(i) / 2)}\r\n`).join(''),
  // an instrument's file without any heading
  'flaeche.csv': [...Array(81).keys()].map(i => `${(i % 9 - 4) * 35},${(Math.floor(i / 9) - 4) * 35},${(noise(i) * 2).toFixed(4)}\n`).join(''),
};

test('from an empty folder and three files to a verdict, without a terminal', async () => {
  let actions = 0;
  const click = async what => { actions++; await page.click(what); };
  const answer = async (id, value) => {
    actions++;
    const field = page.locator('#' + id);
    if (await field.evaluate(node => node.tagName) === 'SELECT') await field.selectOption(value);
    else { await field.fill(value); await field.press('Tab'); }
    await page.waitForTimeout(150);
  };
  await click('text=New plate');
  await page.waitForSelector('.drop');
  await page.fill('#name', 'K9');
  actions++;
  actions++; // one drop of all three
  // as the browser takes files that are let go over it: real ones, from another folder, in three steps
  const desk = mkdtempSync(join(tmpdir(), 'plateproof-desk-'));
  const data = { items: [], files: Object.entries(FILES).map(([name, text]) => { writeFileSync(join(desk, name), text); return join(desk, name); }), dragOperationsMask: 1 };
  const box = await page.locator('.drop').boundingBox(), hand = await page.context().newCDPSession(page);
  for (const type of ['dragEnter', 'dragOver', 'drop']) await hand.send('Input.dispatchDragEvent', { type, x: box.x + box.width / 2, y: box.y + 20, data });
  await page.waitForSelector('#columns-2');
  const roles = await page.locator('select[id^=role-]').evaluateAll(list => list.map(node => node.value));
  const at = role => roles.indexOf(role);
  assert.deepEqual([...roles].sort(), ['measured', 'nominal', 'survey']);
  assert.equal(at('nominal'), 0);
  assert.match(await page.locator('section:has(#role-0)').innerText(), /in, in the header/);
  await answer(`columns-${at('measured')}`, 'Bohrung:hole, X-Ist:x, Y-Ist:y, Durchmesser:diameter');
  await page.waitForSelector(`section:has(#role-${at('measured')}):has-text("semicolon")`);
  await answer('key-plate-outline', 'disc');
  await answer('key-plate-diameter', '400');
  await answer('key-plate-thickness', '40');
  await answer('key-holes-tube_diameter', '25.4');
  await answer('key-holes-pitch', '31.75');
  await page.waitForSelector('.limits tr:has-text("ligament, standard"):has-text("tema-style")');
  await answer('key-survey-flatness_limit', '0.5');
  await page.waitForSelector('.sound');
  await click('button:text-is("Save and run")');
  await page.waitForSelector('iframe, .problem', { timeout: 60000 });
  assert.deepEqual(await page.locator('.problem').allInnerTexts(), []);
  assert.equal(await page.locator('.said.large').innerText(), 'conforms');
  assert.ok(actions <= 12, `${actions} clicks, drops and answers`);
  console.log(`# from three files to a verdict: ${actions} clicks, drops and answers`);
  rmSync(desk, { recursive: true });
  for (const [name, text] of Object.entries(FILES)) assert.equal(readFileSync(join(folder, 'K9', name), 'utf8'), text);
  assert.deepEqual(trouble, []);
});

test('the folder is the one that the terminal makes of the same job', () => {
  const report = join(folder, 'K9/K9-report'), again = join(folder, 'K9/twin-report');
  assert.ok(existsSync(join(report, 'results.json')));
  execFileSync(program, ['inspect', '-q', join(folder, 'K9/K9.ini'), '-o', again]);
  for (const name of readdirSync(again)) assert.deepEqual(readFileSync(join(report, name)), readFileSync(join(again, name)), name);
});

test('what is no table is refused, what is not understood is told', async () => {
  await page.goto('about:blank');
  await page.goto(address + '#/begin');
  await page.waitForSelector('.drop');
  await page.setInputFiles('#pick', [{ name: 'plate.pdf', mimeType: 'application/pdf', buffer: Buffer.from('%PDF') }]);
  assert.match(await page.locator('.problem').innerText(), /no table; drop files that end in .csv/);
  await page.setInputFiles('#pick', [{ name: 'odd.csv', mimeType: 'text/csv', buffer: Buffer.from('a,b\none,two\n') }]);
  await page.waitForSelector('#role-0');
  assert.match(await page.locator('section:has(#role-0) .problem').innerText(), /A run would refuse this file/);
});
