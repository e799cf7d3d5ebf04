#!/usr/bin/env bash
# The shop screen in a browser; exit 77 (skipped) as run.sh does.
here=$(cd "$(dirname "$0")" && pwd)
for need in node /usr/bin/chromium; do
  command -v "$need" >/dev/null || { echo "skipped: $need is not installed"; exit 77; }
done
[ -d "$here/node_modules/playwright-core" ] || { echo "skipped: playwright-core is not installed (scripts/setup.sh --test)"; exit 77; }
export PLATEPROOF=$1 PLATEPROOF_SOURCE=$2
exec node --test "$here/screen.test.mjs" "$here/begin.test.mjs"
