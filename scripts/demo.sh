#!/usr/bin/env bash
# The whole thing on a fresh machine: install what is missing, build, inspect the demo plate, and
# say where the report is.
set -euo pipefail
cd "$(dirname "$0")/.."
scripts/setup.sh
echo "demo: building"
scripts/build.sh release
out=build/demo
mkdir -p "$out"

echo "demo: inspecting the demo plate, data/demo/plate.ini"
status=0
build/release/plateproof inspect data/demo/plate.ini -o "$out/plate-report" || status=$?
if [ "$status" -ne 1 ]; then # the demo plate has faults on purpose
  echo "demo: expected exit status 1 (something does not conform), got $status" >&2
  exit 1
fi
echo
echo "demo: the report is $PWD/$out/plate-report/report.html"
echo "demo: the certificate is $PWD/$out/plate-report/certificate.pdf"
echo "demo: see it at the screen, and run it again: build/release/plateproof serve data/demo --open"
