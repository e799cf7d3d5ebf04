// The shop screen in Debian's chromium, on a folder with the demo plates. Run by tests/browser/screen.sh.
import assert from 'node:assert/strict';
import { execFileSync, spawn } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { chromium } from 'playwright-core';

const program = process.env.PLATEPROOF, source = process.env.PLATEPROOF_SOURCE;
const folder = mkdtempSync(join(tmpdir(), 'plateproof-screen-'));
let browser, server, context, address, second_address;

const next_address = () => new Promise(done => {
  const hear = data => {
    const found = String(data).match(/http:\/\/127\.0\.0\.1:\d+\/\?token=[0-9a-f]+/);
    if (found) { server.stdout.off('data', hear); done(found[0]); }
  };
  server.stdout.on('data', hear);
});

const run = (...words) => { try { execFileSync(program, words, { stdio: 'ignore' }); } catch { /* plates with faults */ } };

before(async () => {
  cpSync(join(source, 'data/demo'), join(folder, 'demo'), { recursive: true });
  run('holes', join(folder, 'demo/plate.ini'), '-q');
  run('holes', join(folder, 'demo/clean.ini'), '-q');
  writeFileSync(join(folder, 'demo/fresh.ini'), '[job]\nplate_id = FRESH\n[plate]\noutline = disc\ndiameter = 2400\n[survey]\nfile = survey.csv\nflatness_limit = 3\n');
  writeFileSync(join(folder, 'wrong.ini'), '[plate]\noutlin = disc\n');
  writeFileSync(join(folder, 'sly.ini'), '[plate]\n[job]\ntitle = <img src=x onerror=alert(1)><script>alert(2)</script>\n');
  utimesSync(join(folder, 'demo/clean-measured.csv'), new Date(), new Date(Date.now() + 60000));
  server = spawn(program, ['serve', folder]);
  address = await next_address();
  browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--headless', '--disable-gpu', '--no-first-run', '--disable-background-networking', '--disable-sync'],
  });
  context = await browser.newContext({ viewport: { width: 1280, height: 900 } });
  const further = next_address();
  const page = await context.newPage();
  await page.goto(address);
  second_address = await further;
  await page.close();
});
after(async () => { await browser?.close(); server?.kill(); rmSync(folder, { recursive: true, force: true }); });

// no waitForFunction: it evaluates text, which the page's policy forbids
const ready = (page, value) => page.waitForSelector(`html[data-ready${value}]`, { state: 'attached' });

async function open(hash = '#/', size) {
  const page = await context.newPage();
  const trouble = [];
  page.on('pageerror', e => trouble.push(e.message));
  page.on('console', m => { if (m.type() === 'error') trouble.push(m.text()); });
  page.on('dialog', d => { trouble.push('dialog ' + d.message()); d.dismiss(); });
  if (size) await page.setViewportSize(size);
  await page.goto(new URL('/' + hash, address).href);
  await ready(page, `="${hash}"`);
  return { page, trouble };
}
const row = (page, text) => page.locator('.plates tbody tr', { hasText: text });

test('the plates are there, the worst first, each with a word beside its shape', async () => {
  const { page, trouble } = await open();
  const verdicts = await page.locator('.plates tbody .said').allInnerTexts();
  assert.deepEqual(verdicts, ['does not conform', 'cannot be read', 'not run yet', 'not run yet', 'not run yet', 'conforms']);
  assert.match(await row(page, 'TP-K3-F').innerText(), /changed since: clean-measured.csv/);
  assert.match(await row(page, 'wrong.ini').innerText(), /line 2: .*outline/);
  assert.match(await row(page, 'sly.ini').innerText(), /<img src=x onerror/);
  assert.deepEqual(trouble, []);
  await page.close();
});

test('headings sort, both ways; the field finds', async () => {
  const { page } = await open();
  const names = () => page.locator('.plates tbody a').allInnerTexts();
  await page.click('th button:has-text("Plate")');
  const up = await names();
  await page.click('th button:has-text("Plate")');
  assert.deepEqual(await names(), up.toReversed());
  assert.equal(await page.locator('th[aria-sort=descending]').innerText(), 'Plate\u00a0\u2193'.split('\u00a0')[0]);
  await page.fill('#find', 'k2 not conform');
  assert.deepEqual(await names(), ['TP-K2-F']);
  await page.fill('#find', 'nothing like it');
  assert.deepEqual(await names(), []);
  await page.close();
});

test('by keyboard alone: find, go down, open, come back', async () => {
  const { page } = await open();
  const tab_to = async what => {
    for (let i = 0; i < 40; i++) {
      if (await page.evaluate(wanted => document.activeElement.matches(wanted), what)) return;
      await page.keyboard.press('Tab');
    }
    assert.fail(`${what} can't be reached by keyboard`);
  };
  await tab_to('#find');
  await page.keyboard.type('condenser');
  await tab_to('tbody a');
  const first = await page.evaluate(() => document.activeElement.textContent);
  await page.keyboard.press('ArrowDown');
  assert.notEqual(await page.evaluate(() => document.activeElement.textContent), first);
  await page.keyboard.press('ArrowUp');
  await page.keyboard.press('Enter');
  await ready(page, '^="#/plate/"');
  assert.equal(await page.locator('h1').innerText(), 'TP-K2-F');
  await page.goBack();
  await ready(page, '="#/"');
  await page.close();
});

test('a plate: verdict, inputs by their bytes, the report in a frame that can reach nothing', async () => {
  const { page, trouble } = await open('#/plate/demo%2Fclean.ini');
  assert.equal(await page.locator('.said.large').innerText(), 'conforms');
  assert.match(await page.locator('summary').innerText(), /all the same/); // saved again, same bytes
  const frame = await (await page.waitForSelector('iframe')).contentFrame();
  await ready(frame, '="yes"');
  assert.match(await frame.locator('#verdict .word').innerText(), /conforms/);
  const reached = await frame.evaluate(async () => {
    const tried = {};
    try { tried.parent = parent.document.title; } catch { tried.parent = null; }
    try { tried.cookie = document.cookie; } catch { tried.cookie = null; }
    try { tried.plates = (await fetch('/api/plates')).status; } catch { tried.plates = null; }
    return tried;
  });
  assert.deepEqual(reached, { parent: null, cookie: null, plates: null });
  trouble.splice(0); // the refused fetch
  const [download] = await Promise.all([page.waitForEvent('download'), page.click('text=Certificate')]);
  assert.equal(download.suggestedFilename(), 'certificate.pdf');
  assert.deepEqual(trouble, []);
  await page.close();
});

test('a plate is run: steps as they happen, then its verdict and report; a long run is stopped', async () => {
  const { page, trouble } = await open('#/plate/demo%2Ffresh.ini');
  assert.equal(await page.locator('.said.large').innerText(), 'not run yet');
  await page.click('button:has-text("Run")');
  await page.waitForSelector('iframe', { timeout: 60000 });
  assert.equal(await page.locator('.said.large').innerText(), 'conforms');
  assert.match(await page.locator('.run-line').innerText(), /^done, /);
  await page.click('summary:has-text("Steps")');
  assert.match(await page.locator('.stages').innerText(), /judging/);
  const [download] = await Promise.all([page.waitForEvent('download'), page.click('text=Whole folder')]);
  assert.equal(download.suggestedFilename(), 'fresh-report.zip');
  await page.click('button:has-text("Run again")');
  await page.waitForSelector('.run-line:has-text("done")');
  assert.deepEqual(trouble, []);
  await page.close();
  const long = await open('#/plate/demo%2Fbaffle.ini');
  await long.page.click('button:has-text("Run")');
  await long.page.waitForSelector('.stages li');
  await long.page.click('button:has-text("Stop")');
  await long.page.waitForSelector('.run-line:has-text("was stopped")');
  await long.page.close();
  const wrong = await open('#/plate/wrong.ini');
  await wrong.page.click('button:has-text("Run")');
  assert.match(await wrong.page.locator('.problem').innerText(), /line 2: .*outline/);
  await wrong.page.close();
});

test('a job: form and text follow each other, problems stand at the key and the line, a conflict loses nothing', async () => {
  const file = join(folder, 'demo/fresh.ini');
  const { page, trouble } = await open('#/job/demo%2Ffresh.ini');
  await page.waitForSelector('.sound');
  await page.fill('#key-survey-uncertainty', '0.02');
  await page.press('#key-survey-uncertainty', 'Tab');
  await page.waitForSelector('button:text-is("Save")');
  assert.match(await page.inputValue('#text'), /flatness_limit = 3\nuncertainty = 0.02/);
  await page.fill('#key-plate-diameter', '24,00');
  await page.press('#key-plate-diameter', 'Tab');
  await page.waitForSelector('#key-plate-diameter[aria-invalid]');
  assert.match(await page.locator('#key-plate-diameter-wrong').innerText(), /24,00/);
  await page.click('button.line');
  assert.equal(await page.evaluate(() => { const a = document.getElementById('text'); return a.value.slice(a.selectionStart, a.selectionEnd); }), 'diameter = 24,00');
  await page.fill('#text', (await page.inputValue('#text')).replace('24,00', '2400 ; by the drawing'));
  await page.waitForSelector('.sound');
  assert.equal(await page.inputValue('#key-plate-diameter'), '2400');
  writeFileSync(file, readFileSync(file, 'utf8') + '; by hand\n');
  await page.click('button:text-is("Save")');
  await page.waitForSelector('text=changed elsewhere');
  assert.match(readFileSync(file, 'utf8'), /; by hand\n$/);
  await page.click('button:text-is("Keep mine")');
  await page.waitForSelector('button:text-is("Saved")');
  assert.match(readFileSync(file, 'utf8'), /diameter = 2400 ; by the drawing\n/);
  assert.deepEqual(trouble.filter(t => !/409/.test(t)), []);
  await page.goto(new URL('/#/files/demo%2Ffresh.ini', address).href);
  await ready(page, '^="#/files/"');
  assert.match(await page.locator('main').innerText(), /Rows read\s+341/);
  await page.close();
});

test('every mistake of a job stands at its key and its line, all at once', async () => {
  const { page, trouble } = await open('#/job/demo%2Fclean.ini');
  await page.waitForSelector('.sound');
  const sound = await page.inputValue('#text');
  await page.fill('#text', sound.replace(/^thickness = .*$/m, 'thickness = thick').replace(/^pitch = .*$/m, 'pitch = 3,2').replace('[holes]', '[holes]\npitsh = 3'));
  await page.waitForSelector('#problem :text("3 things to mend")');
  for (const key of ['plate-thickness', 'holes-pitch']) assert.equal(await page.locator('#key-' + key).getAttribute('aria-invalid'), 'true', key);
  assert.match(await page.locator('#problem').innerText(), /pitsh.*did you mean/);
  assert.equal(await page.locator('button.line').count(), 3);
  await page.fill('#text', sound);
  await page.waitForSelector('.sound');
  assert.deepEqual(trouble, []);
  await page.close();
});

test('two browsers on one job: each sees the other\u2019s run, neither loses what the other saved', async () => {
  const further = next_address(), other_context = await browser.newContext({ viewport: { width: 820, height: 900 } });
  const other = await other_context.newPage();
  await other.goto(second_address);
  await further;
  const file = join(folder, 'demo/fresh.ini');
  const { page } = await open('#/job/demo%2Ffresh.ini');
  await other.goto(new URL('/#/job/demo%2Ffresh.ini', address).href);
  for (const one of [page, other]) await one.waitForSelector('.sound');
  for (const [one, words] of [[page, '; of the first'], [other, '; of the second']]) await one.fill('#text', await one.inputValue('#text') + words + '\n');
  await page.click('button:text-is("Save")');
  await page.waitForSelector('button:text-is("Saved")');
  await other.click('button:text-is("Save")');
  await other.waitForSelector('text=changed elsewhere');
  assert.match(readFileSync(file, 'utf8'), /; of the first\n$/);
  assert.match(await other.inputValue('#text'), /; of the second\n$/, 'what was typed is still there');
  await other.click('button:text-is("Take the other")');
  await other.waitForSelector('button:text-is("Saved")');
  assert.match(await other.inputValue('#text'), /; of the first\n$/);
  for (const one of [page, other]) { await one.goto('about:blank'); await one.goto(new URL('/#/plate/demo%2Ffresh.ini', address).href); await ready(one, '="#/plate/demo%2Ffresh.ini"'); }
  await page.click('button:has-text("Run")');
  for (const one of [page, other]) await one.waitForSelector('.run-line:has-text("done")', { timeout: 60000 });
  assert.equal(await other.locator('.said.large').innerText(), 'conforms');
  await other_context.close();
  await page.close();
});

test('what stands where, and two rounds side by side', async () => {
  const files = await open('#/files/demo%2Fplate.ini');
  assert.match(await files.page.locator('.plate-picture').getAttribute('aria-label'), /341 surveyed places, 4050 holes as drawn, 8084 measured, and known, 2 drawn, not measured/);
  assert.equal((await files.page.locator('.plate-picture .missing').getAttribute('d')).split('z').length - 1, 2);
  assert.match(await files.page.locator('.picture').innerText(), /8086 rows matched by name/);
  assert.deepEqual(files.trouble, []);
  await files.page.close();
  const { page, trouble } = await open('#/compare/demo%2Fplate.ini');
  await page.click('button:text-is("Compare")');
  await page.waitForSelector('iframe', { timeout: 60000 });
  const told = JSON.parse(readFileSync(join(folder, 'demo/plate-compared/comparison.json'), 'utf8')).changes;
  assert.ok(told.repaired > 0);
  assert.deepEqual((await page.locator('.changes dd').allInnerTexts()).map(Number), ['repaired', 'better', 'unchanged', 'worse', 'new', 'not judged now'].map(change => told[change]));
  assert.match(await (await (await page.waitForSelector('iframe')).contentFrame()).locator('body').innerText(), /Two rounds of a plate/);
  assert.deepEqual(trouble, []);
  await page.close();
});

test('comparing, correcting, files and the history by keyboard alone', async () => {
  for (const [hash, button, result] of [['#/compare/demo%2Fplate.ini', 'Compare', 'iframe'], ['#/history', 'Add the chosen plates, and show', 'iframe'],
    ['#/correct/demo%2Fplate.ini', 'Work out the list', '.problem'], ['#/files/demo%2Fplate.ini', 'To the plate', 'html[data-ready="#/plate/demo%2Fplate.ini"]']]) {
    const { page } = await open(hash);
    let at = '';
    for (let k = 0; k < 40 && at !== button; k++) {
      await page.keyboard.press('Tab');
      at = await page.evaluate(() => document.activeElement.textContent);
    }
    assert.equal(at, button, hash);
    assert.notEqual(await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle), 'none', 'the focus is seen');
    await page.keyboard.press('Enter');
    await page.waitForSelector(result, { timeout: 60000, state: 'attached' });
    await page.close();
  }
});

test('a plate that a history refuses does not hide the others', async () => {
  const { page, trouble } = await open('#/history');
  const job = join(folder, 'demo/clean.ini'), add = 'button:text-is("Add the chosen plates, and show")';
  await page.click(add);
  await page.waitForSelector('iframe', { timeout: 60000 });
  assert.equal(await page.locator('.problem').count(), 0);
  writeFileSync(job, readFileSync(job, 'utf8').replace(/^title = .*/m, 'title = Measured anew, by the same number'));
  run('holes', job, '-q');
  await page.reload();
  await page.waitForSelector(add);
  await page.click(add);
  assert.match(await page.locator('.problem').innerText(), /clean-report: refused: another report of this plate/);
  await page.waitForSelector('.run-line:has-text("done")', { timeout: 60000 });
  assert.match(await page.locator('.problem').innerText(), /refused/);
  assert.equal(await page.locator('iframe').count(), 1);
  assert.deepEqual(trouble, []);
  await page.close();
});

test('another page of the same browser gets nothing', async () => {
  const page = await context.newPage();
  await page.goto('data:text/html,<p>elsewhere');
  const answer = await page.evaluate(async at => {
    try { return (await fetch(at + '/api/plates', { credentials: 'include' })).status; } catch { return 'refused'; }
  }, new URL(address).origin);
  assert.equal(answer, 'refused');
  await assert.rejects(page.goto(address), /ERR_HTTP_RESPONSE_CODE_FAILURE/); // 401: a token that was used
  await page.close();
});

// by the inspector, which the page's own policy does not bind
async function found_by_axe(page) {
  const axe = new URL('node_modules/axe-core/axe.min.js', import.meta.url);
  if (!existsSync(axe)) return null;
  const inspector = await context.newCDPSession(page);
  await inspector.send('Runtime.evaluate', { expression: readFileSync(axe, 'utf8') });
  const { result } = await inspector.send('Runtime.evaluate', { awaitPromise: true, returnByValue: true,
    expression: "axe.run(document, { iframes: false, resultTypes: ['violations'] }).then(r => r.violations.filter(v => v.impact === 'serious' || v.impact === 'critical').map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 120)).join(' | ')))" });
  return result.value;
}

test('nothing is wider than the window, at 1280, 820 and 390 pixels; axe-core finds nothing serious', async () => {
  for (const hash of ['#/', '#/plate/demo%2Fplate.ini', '#/job/demo%2Fplate.ini', '#/files/demo%2Fplate.ini', '#/begin', '#/compare/demo%2Fplate.ini', '#/correct/demo%2Ffresh.ini', '#/history']) {
    const { page, trouble } = await open(hash, { width: 1280, height: 900 });
    const axe = await found_by_axe(page);
    if (axe === null) console.log('# skipped: axe-core is not installed (scripts/setup.sh --test)');
    else assert.deepEqual(axe, [], hash);
    for (const width of [1280, 820, 390]) {
      await page.setViewportSize({ width, height: 900 });
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(over <= 0, `${hash} at ${width}: ${over} px too wide`);
    }
    assert.deepEqual(trouble, []);
    await page.close();
  }
});

test('beside the instrument: the work list is ticked off, and a file that is written is looked at again', async () => {
  const shop = join(folder, 'shop'), lists = join(shop, 'measured.csv');
  cpSync(join(source, 'tests/cli/files'), shop, { recursive: true });
  const sound = readFileSync(lists, 'utf8'), out = sound.replace('A2,32.017', 'A2,33.017');
  writeFileSync(lists, out);
  run('holes', join(shop, 'small.ini'), '-q');
  const { page, trouble } = await open('#/plate/shop%2Fsmall.ini');
  await page.click('summary:has-text("Work list: 0 of 1 done")');
  await page.check('.work input[type=checkbox]');
  await page.waitForSelector('summary:has-text("Work list: 1 of 1 done")');
  await page.reload();
  await page.waitForSelector('summary:has-text("Work list: 1 of 1 done")');
  assert.equal(await page.locator('.said.large').innerText(), 'does not conform');
  await page.check('#follow');
  await page.waitForSelector('.live:has-text("3 of 3 holes measured so far") >> text=A2');
  writeFileSync(lists, sound);
  await page.waitForSelector('.live:has-text("Nothing out so far")');
  writeFileSync(lists, sound.replace('A3,15.988', 'A3,zero'));
  await page.waitForSelector('.live .problem:has-text("zero")');
  assert.equal(await page.locator('.said.large').innerText(), 'does not conform', 'the report that stands is left alone');
  await page.uncheck('#follow');
  assert.deepEqual(trouble, []);
  await page.close();
});
