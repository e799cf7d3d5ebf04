#!/usr/bin/env bash
# Build one preset (default: release) quietly; show the compiler's words only when it fails.
set -euo pipefail
cd "$(dirname "$0")/.."
preset=${1:-release}
mkdir -p build
log=build/$preset.log
if ! { cmake --preset "$preset" && cmake --build --preset "$preset"; } >"$log" 2>&1; then
  tail -n 40 "$log" >&2
  echo "build: the $preset build failed; all of it is in $log" >&2
  exit 1
fi
