// Pictures of the shop screen for the manual: pictures.mjs ADDRESS FOLDER. Run by scripts/make_pictures.sh.
import { chromium } from 'playwright-core';

const [address, folder] = process.argv.slice(2);
const PAGES = [['plates', '#/'], ['plate', '#/plate/demo%2Fplate.ini'], ['job', '#/job/demo%2Fplate.ini'], ['files', '#/files/demo%2Fplate.ini'], ['begin', '#/begin'],
  ['compare', '#/compare/demo%2Fplate.ini', 'Compare'], ['correct', '#/correct/series%2Fn9.ini', 'Work out the list'], ['history', '#/history', 'Add the chosen plates, and show'], ['bundle', '#/plate/bundle%2Fset.ini']];
const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox', '--headless'] });
const page = await browser.newPage();
await page.goto(address);
for (const [name, hash, button] of PAGES)
  for (const [width, height] of [[1280, 800], [820, 900], [390, 780]]) {
    await page.setViewportSize({ width, height });
    await page.goto(new URL('/' + hash, address).href);
    await page.waitForSelector(`html[data-ready="${hash}"]`, { state: 'attached' });
    if (button && width === 1280) {
      await page.click(`button:text-is("${button}")`);
      await page.waitForSelector('iframe', { timeout: 60000 });
    }
    await page.waitForTimeout(1000); // the report in its frame
    await page.screenshot({ path: `${folder}/screen-${name}${width === 1280 ? '' : '-' + width}.png` });
  }
for (const [width, height] of [[1280, 800], [390, 780]]) {
  await page.setViewportSize({ width, height });
  await page.goto('about:blank');
  await page.goto(new URL('/#/plate/demo%2Fplate.ini', address).href);
  await page.click('summary:has-text("Work list")');
  await page.locator('.work').evaluate(node => node.scrollIntoView());
  await page.waitForTimeout(300);
  await page.screenshot({ path: `${folder}/screen-work${width === 1280 ? '' : '-' + width}.png` });
}
await browser.close();
