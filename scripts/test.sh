#!/usr/bin/env bash
# All tests: the same set-up as the demo, then every suite CI runs.
#   scripts/test.sh             everything
#   scripts/test.sh quick       one release build and its tests
#   scripts/test.sh reference   one table: everything checked from outside, published against ours
# Ends with one line: "N passed, N failed, N skipped" (the reference table skips nothing).
set -uo pipefail
cd "$(dirname "$0")/.."
what=${1:-all}
scripts/setup.sh --test || exit 1

passed=0 failed=0 skipped=0

# run_suite PRESET [ctest options]: build it, run its tests, add up what ctest says
run_suite() {
  local preset=$1 log
  shift
  echo "== $preset"
  if ! scripts/build.sh "$preset"; then
    failed=$((failed + 1))
    return
  fi
  log=build/$preset-tests.log
  ctest --test-dir "build/$preset" -j2 --output-on-failure "$@" >"$log" 2>&1 || true
  grep -E 'Failed|\*\*\*|Not Run' "$log" | head -n 40
  tail -n 40 "$log" | grep -E 'tests passed|Total Test time'
  local bad total skip
  total=$(sed -nE 's/.*tests failed out of ([0-9]+).*/\1/p' "$log" | tail -n 1)
  bad=$(sed -nE 's/.* ([0-9]+) tests? failed out of.*/\1/p' "$log" | tail -n 1)
  skip=$(grep -cE '\*\*\*Skipped' "$log")
  if [ -z "$total" ]; then
    echo "the $preset tests did not run; see $log" >&2
    failed=$((failed + 1))
    return
  fi
  [ "$bad" -gt 0 ] && grep -B2 -A60 -E '^\[  (FAILED|ERROR)|[Ee]rror:' "$log" | head -n 120
  passed=$((passed + total - bad - skip)) failed=$((failed + bad)) skipped=$((skipped + skip))
}

# check NAME COMMAND...: one pass or fail
check() {
  local name=$1
  shift
  if "$@" >"build/$name.log" 2>&1; then
    echo "== $name: ok"
    passed=$((passed + 1))
  else
    echo "== $name: failed"
    tail -n 30 "build/$name.log"
    failed=$((failed + 1))
  fi
}

format_is_clean() {
  git ls-files '*.c' '*.h' | xargs clang-format --dry-run -Werror
}

case $what in
reference) # the table closes with the same line itself
  scripts/build.sh release || exit 1
  exec build/release/tests/reference/reference_table
  ;;
all)
  run_suite release
  ;;
quick) run_suite release ;;
*)
  echo "test: no suite is called $what; there are all, quick, reference" >&2
  exit 2
  ;;
esac

echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
