#!/usr/bin/env bash
# The diagnosis on simulated plates: how often it raises a false alarm, how often it finds what is
# there. Prints the tables of docs/theory/diagnosis.md; the same numbers on every machine.
#   scripts/simulate.sh [PLATES]     500 plates a row by default: about a minute
set -euo pipefail
cd "$(dirname "$0")/.."
scripts/build.sh release
exec build/release/tests/simulation/diagnosis_simulation "${1:-500}"
