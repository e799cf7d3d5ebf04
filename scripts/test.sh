#!/usr/bin/env bash
# All tests: the same set-up as the demo, then every suite CI runs.
#   scripts/test.sh             everything
#   scripts/test.sh quick       one release build and the tests that take seconds
#   scripts/test.sh asan        quick tests, by clang with AddressSanitizer and UBSan (so: clang, optimised; tsan)
#   scripts/test.sh faults      the n-th allocation fails, signals at random moments, strange files
#   scripts/test.sh hostile     all of that, and fuzzing and analysers, with counts; see scripts/hostile.sh
#   scripts/test.sh reference   one table: everything checked from outside, published against ours
# Ends with one line: "N passed, N failed, N skipped" (the reference table skips nothing).
set -uo pipefail
cd "$(dirname "$0")/.."
what=${1:-all}
scripts/setup.sh --test || exit 1
mkdir -p build

passed=0 failed=0 skipped=0

# count_tests NAME [ctest options]: run ctest, add up what it says
count_tests() {
  local log=build/$1-tests.log
  shift
  ctest -j2 --output-on-failure "$@" >"$log" 2>&1 || true
  grep -E 'Failed|\*\*\*|Not Run' "$log" | head -n 40
  tail -n 40 "$log" | grep -E 'tests passed|Total Test time'
  local bad total skip
  total=$(sed -nE 's/.*tests failed out of ([0-9]+).*/\1/p' "$log" | tail -n 1)
  bad=$(sed -nE 's/.* ([0-9]+) tests? failed out of.*/\1/p' "$log" | tail -n 1)
  skip=$(grep -cE '\*\*\*Skipped' "$log")
  if [ -z "$total" ]; then
    echo "no test ran; see $log" >&2
    failed=$((failed + 1))
    return
  fi
  [ "$bad" -gt 0 ] && grep -B2 -A60 -E '^\[  (FAILED|ERROR)|[Ee]rror:' "$log" | head -n 120
  passed=$((passed + total - bad - skip)) failed=$((failed + bad)) skipped=$((skipped + skip))
}

# run_suite PRESET [ctest options]: build it, run its tests
run_suite() {
  local preset=$1
  shift
  echo "== $preset"
  if scripts/build.sh "$preset"; then
    count_tests "$preset" --test-dir "build/$preset" "$@"
  else
    failed=$((failed + 1))
  fi
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

# the whole main job, with threads
tsan_demo() {
  TSAN_OPTIONS=suppressions=tests/analysers/threads.supp \
    build/tsan/plateproof inspect -q --threads 2 data/demo/plate.ini -o build/tsan/demo-report
  [ $? -eq 1 ] # the demo plate does not conform
}

faults() {
  echo "== faults"
  if scripts/build.sh release; then
    count_tests faults --test-dir build/release -C faults -R '^(allocations|signals|strange_files|sizes)$'
  else
    failed=$((failed + 1))
  fi
}

case $what in
reference) # the table closes with the same line itself
  scripts/build.sh release || exit 1
  exec build/release/tests/reference/reference_table
  ;;
all)
  # Everything is compiled by gcc and, checked while it runs, by clang; what scripts/hostile.sh runs is not run twice.
  check format format_is_clean
  run_suite release -LE hostile
  run_suite asan -LE 'slow|long|once'
  check hostile scripts/hostile.sh short # faults too, and fuzzing with what the asan suite was built for
  tail -n 1 build/hostile.log
  run_suite tsan -L threads
  check tsan-demo tsan_demo
  ;;
quick) run_suite release -LE 'slow|long' ;;
asan | clang) run_suite "$what" -LE 'slow|long|once' ;;
tsan)
  run_suite tsan -L threads
  check tsan-demo tsan_demo
  ;;
faults) faults ;;
hostile) exec scripts/hostile.sh "${2:-short}" ;;
*)
  echo "test: no suite is called $what; there are all, quick, asan, clang, tsan, faults, hostile, reference" >&2
  exit 2
  ;;
esac

echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
