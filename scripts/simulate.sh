#!/usr/bin/env bash
# The statements of the program on simulated plates; the same numbers on every machine.
#   scripts/simulate.sh [diagnosis] [PLATES]   false alarms and finds, docs/theory/diagnosis.md; 500
#                                              plates a row by default: about a minute
#   scripts/simulate.sh position [RUNS]        holes at their limit, docs/theory/holes.md; 20000
#                                              measurements a cell: three minutes
set -euo pipefail
cd "$(dirname "$0")/.."
scripts/build.sh release
case "${1:-}" in
  *[!0-9]*) which=$1; shift ;;
  *) which=diagnosis ;;
esac
exec "build/release/tests/simulation/${which}_simulation" "$@"
