#!/usr/bin/env bash
# Take the pictures of docs/pictures anew: from the demo the head of the report, plate map with position errors, hold-down,
# page 1 of the certificate; a stack's page; a bundle's tubes, worst tube and sheet; from an invented plate with one fault of
# each kind the work list on a wide and on a narrow screen and on paper, and three certificates side by side; the shop screen.
# Look at them before you commit them.
# BUILD=dev takes another build than the release. What they show is noted in docs/pictures/sources.json: a test tells
# when they are older.
set -euo pipefail
cd "$(dirname "$0")/.."
[ -n "${BUILD:-}" ] || scripts/setup.sh --test
build=build/${BUILD:-release}
[ -n "${BUILD:-}" ] || scripts/build.sh release
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
work=$place/shop
mkdir "$work"
cp -r data/demo "$work/demo"
for job in plate clean; do
  $build/plateproof inspect -q "$work/demo/$job.ini" || [ $? -eq 1 ]
done
cp -r data/demo-stack "$work/stack"
$build/plateproof stack -q "$work/stack/stack.ini" || [ $? -eq 1 ]
cp -r data/demo-bundle "$work/bundle"
$build/plateproof bundle -q "$work/bundle/set.ini" || [ $? -eq 1 ]
scripts/invented_series.py "$work/series"
for number in 1 2 3 4 5 6 7 8; do
  $build/plateproof holes -q "$work/series/n$number.ini" || [ $? -eq 1 ]
done
scripts/three_certificates.sh $build/plateproof "$place/invented" docs/pictures/three-certificates.png
pdftoppm -png -r 80 -f 1 -singlefile "$place/invented/honest-report/worklist.pdf" docs/pictures/worklist-sheet
NODE_PATH=tests/browser/node_modules node - "$work/demo/plate-report/report.html" "$work/stack/stack-report/report.html" "$work/bundle/set-report/report.html" "$place/invented/honest-report/report.html" docs/pictures <<'SCRIPT'
const { chromium } = require('playwright-core');
const [page_file, stack_file, bundle_file, work_file, folder] = process.argv.slice(2);
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
  await page.goto('file://' + bundle_file);
  for (const id of ['tubes', 'worst']) await page.locator(`#${id}`).screenshot({ path: `${folder}/bundle-${id}.png` });
  for (const width of [1280, 390]) {
    const screen = await browser.newPage({ viewport: { width, height: width > 1000 ? 820 : 780 } });
    await screen.goto('file://' + work_file);
    await screen.screenshot({ path: `${folder}/worklist-${width}.png` });
    await screen.locator('#map').focus();
    for (const key of 'nnn') await screen.keyboard.press(key);
    if (width < 1000) await screen.locator('#plate').screenshot({ path: `${folder}/worklist-step-${width}.png` });
    else {
      const box = await screen.locator('#work').boundingBox(), y = box.y + await screen.evaluate(() => scrollY);
      await screen.screenshot({ path: `${folder}/worklist-rows-${width}.png`, fullPage: true, clip: { x: box.x, y, width: box.width, height: Math.min(box.height, 900) } });
    }
    await screen.close();
  }
  await browser.close();
})();
SCRIPT
"$build/plateproof" serve "$work" >"$work/address" &
server=$!
for _ in $(seq 50); do grep -q token "$work/address" && break; sleep 0.1; done
node tests/browser/pictures.mjs "$(grep -o 'http://[^ ]*' "$work/address" | head -n 1)" docs/pictures
kill "$server"
wait "$server" || true
pdftoppm -png -r 80 -f 1 -singlefile "$work/bundle/set-report/fitters-sheet.pdf" docs/pictures/fitters-sheet
pdftoppm -png -r 80 -f 1 -singlefile "$work/demo/clean-report/certificate.pdf" docs/pictures/certificate
if convert -version >/dev/null 2>&1; then # fewer colours, a third of the size
  for picture in docs/pictures/*.png; do convert "$picture" +dither -colors 48 "$picture"; done
fi
scripts/picture_sources.py $build/plateproof --write
ls -l docs/pictures/*.png
