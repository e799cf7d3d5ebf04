#!/usr/bin/env bash
# Take the pictures of docs/pictures anew from the demo: head of the report, plate map with position
# errors, hold-down, page 1 of the certificate. Look at them before you commit them.
set -euo pipefail
cd "$(dirname "$0")/.."
scripts/setup.sh --test
scripts/build.sh release
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cp -r data/demo "$work/demo"
for job in plate clean; do
  build/release/plateproof inspect -q "$work/demo/$job.ini" || [ $? -eq 1 ]
done
cp -r data/demo-stack "$work/stack"
build/release/plateproof stack -q "$work/stack/stack.ini" || [ $? -eq 1 ]
NODE_PATH=tests/browser/node_modules node - "$work/demo/plate-report/report.html" "$work/stack/stack-report/report.html" docs/pictures <<'SCRIPT'
const { chromium } = require('playwright-core');
const [page_file, stack_file, folder] = process.argv.slice(2);
(async () => {
  const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox', '--headless'] });
  const page = await browser.newPage({ viewport: { width: 960, height: 720 } });
  await page.goto('file://' + page_file);
  await page.screenshot({ path: `${folder}/report.png` });
  for (const [layer, name] of [['position', 'plate'], ['hold', 'holddown']]) {
    await page.locator(`input[name=layer][value=${layer}]`).check();
    await page.locator('section:has(#map)').screenshot({ path: `${folder}/${name}.png` });
  }
  await page.goto('file://' + stack_file);
  await page.screenshot({ path: `${folder}/stack.png`, fullPage: true, clip: { x: 0, y: 0, width: 960, height: 1640 } });
  await browser.close();
})();
SCRIPT
pdftoppm -png -r 80 -f 1 -singlefile "$work/demo/clean-report/certificate.pdf" docs/pictures/certificate
if command -v convert >/dev/null; then # fewer colours, a third of the size
  for picture in docs/pictures/*.png; do convert "$picture" +dither -colors 48 "$picture"; done
fi
ls -l docs/pictures/*.png
