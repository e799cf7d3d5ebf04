#!/usr/bin/env bash
# Build one preset (default: release), or one target of it, quietly; show the compiler's words only when it fails.
#   scripts/build.sh [PRESET [TARGET]]
set -euo pipefail
cd "$(dirname "$0")/.."
preset=${1:-release} target=${2:-}
mkdir -p build
log=build/$preset.log
if ! { cmake --preset "$preset" && cmake --build --preset "$preset" ${target:+--target "$target"}; } >"$log" 2>&1; then
  tail -n 40 "$log" >&2
  echo "build: the $preset build failed; all of it is in $log" >&2
  exit 1
fi
