#!/usr/bin/env bash
# Browser tests; exit 77 (skipped) with a message when node, chromium or playwright-core is missing.
here=$(cd "$(dirname "$0")" && pwd)
for need in node /usr/bin/chromium; do
  command -v "$need" >/dev/null || { echo "skipped: $need is not installed"; exit 77; }
done
[ -d "$here/node_modules/playwright-core" ] || { echo "skipped: playwright-core is not installed (scripts/setup.sh --test)"; exit 77; }
export SAMPLE_PAGE=$1
exec node --test "$here/page.test.mjs"
