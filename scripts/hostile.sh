#!/usr/bin/env bash
# Nothing breaks it: bad input, faults, fuzzing, analysers, in one command, with counts.
#   scripts/hostile.sh          short, about 2 minutes beside building, in two halves side by side
#   scripts/hostile.sh long     fuzzing for 10 minutes a target, every allocation, valgrind, sanitizers,
#                               clang-tidy and coverage beside: two hours or so
# FUZZ_SECONDS sets the seconds a target. Logs are in build/hostile. Ends with one line:
# "N files tried, N executions, N faults injected, N relations held, N checks skipped, N failures".
set -uo pipefail
cd "$(dirname "$0")/.."
how=${1:-short}
case $how in
short) rounds=40 every=8 seconds=${FUZZ_SECONDS:-4} ;;
long) rounds=240 every=1 seconds=${FUZZ_SECONDS:-600} ;;
*)
  echo "hostile: say short (or nothing) or long, not $how" >&2
  exit 2
  ;;
esac
python=/usr/bin/python3
logs=build/hostile
mkdir -p "$logs"
rm -f "$logs"/*.log "$logs"/skipped "$logs"/failed

# The first number in front of words of a log, added up over its lines.
count() { sed -nE "s/.*(^|[^0-9])([0-9]+) $2.*/\2/p" "$logs/$1.log" 2>/dev/null | awk '{n += $1} END {print n + 0}'; }

# What was skipped and what failed is kept a line each: the halves run in shells of their own.
note() { echo "$2" >>"$logs/$1"; }
noted() { cat "$logs/$1" 2>/dev/null | wc -l; }

# try NAME COMMAND...: run it, keep what it says, show that when it fails. Status 77: skipped.
try() {
  local name=$1 status=0 began=$SECONDS
  shift
  "$@" >"$logs/$name.log" 2>&1 || status=$?
  if [ "$status" -eq 0 ]; then
    echo "== $name: ok, $((SECONDS - began)) s: $(tail -n 1 "$logs/$name.log" | cut -c1-120)"
  elif [ "$status" -eq 77 ]; then
    note skipped "$name"
    echo "== $name: skipped: $(grep -m1 skipped "$logs/$name.log")"
  else
    note failed "$name"
    echo "== $name: FAILED, $((SECONDS - began)) s"$'\n'"$(tail -n 25 "$logs/$name.log")"
  fi
}

skip() {
  note skipped "$1"
  echo "== $1: skipped: $2"
}

have() {
  command -v "$1" >/dev/null && return
  skip "$2" "the package $1 is missing; scripts/setup.sh --hostile installs it"
  return 1
}

# build PRESET [TARGET]
build() {
  scripts/build.sh "$@" && return
  note failed "the $1 build"
  return 1
}

bad_input() {
  local program=build/release/plateproof
  try bad_tables build/release/tests/unit/test_csv_corpus
  try bad_jobs "$python" tests/cli/bad_jobs.py "$program"
  try strange_files "$python" tests/faults/strange_files.py "$program"
  try sizes "$python" tests/faults/sizes.py "$program"
}

inject_faults() {
  local program=build/release/plateproof
  try allocations "$python" tests/faults/allocations.py "$program" build/release/tests/faults/libfailing_memory.so "$every"
  try full_disk "$python" tests/faults/full_disk.py "$program"
  try signals "$python" tests/faults/signals.py "$program" "$rounds"
}

# fuzz TARGET DICTIONARY LENGTH SEEDS...: new finds go to build/hostile, not into the corpus. Leaks are looked
# for at the end: after every run that has kept memory it would take most of the time.
fuzz() {
  local target=$1 dictionary=$2 length=$3
  shift 3
  mkdir -p "$logs/found-$target"
  try "fuzz_$target" env ASAN_OPTIONS=quarantine_size_mb=16:malloc_context_size=4 \
    LSAN_OPTIONS=suppressions=tests/support/leaks.supp:print_suppressions=0 \
    "build/asan/tests/fuzz/fuzz_$target" -max_total_time="$seconds" -max_len="$length" -timeout=240 -rss_limit_mb=4000 \
    ${dictionary:+-dict=tests/fuzz/$dictionary.dict} -artifact_prefix="$logs/crash-$target-" -print_final_stats=0 \
    -detect_leaks=0 -verbosity=1 "$logs/found-$target" "$@"
}

fuzz_all() {
  have clang fuzzing || return
  if ! echo 'int LLVMFuzzerTestOneInput(const char *data, unsigned long size) { return !data && size; }' |
    clang -fsanitize=fuzzer,address -x c - -o "$logs/fuzzer-there" 2>/dev/null; then
    skip fuzzing "clang has no libFuzzer (package libclang-rt-14-dev); scripts/setup.sh --hostile installs it"
    return
  fi
  build asan fuzzers || return
  fuzz job job 4000 tests/corpus/job tests/corpus/job-good
  fuzz rules rules 3000 tests/corpus/rules data/rules
  fuzz survey csv 700 tests/corpus/csv tests/corpus/csv-good
  fuzz holelist csv 700 tests/corpus/csv tests/corpus/csv-good
  fuzz number number 100 tests/corpus/number
  fuzz pipeline "" 900 tests/corpus/pipeline
}

analyse() {
  cmake --preset clang >"$logs/clang-configure.log" 2>&1
  have cppcheck cppcheck && try cppcheck "$python" tests/analysers/analysers.py build/clang cppcheck
  if [ "$how" = long ]; then
    have clang-tidy clang-tidy && build clang && try clang_tidy "$python" tests/analysers/analysers.py build/clang clang-tidy
  fi
  try hardening tests/analysers/hardening.sh build/release/plateproof
  try no_locale no_locale
}

# The library stays in the locale of its caller, and floats are never written or read through it.
no_locale() {
  if grep -rnE '\b(setlocale|uselocale|newlocale|localeconv)\b' src; then
    echo "code that knows a locale"
    return 1
  fi
  echo "no code calls setlocale"
}

memory_checked() {
  local folder=$logs/valgrind
  rm -rf "$folder"
  mkdir -p "$folder"
  # a core that valgrind knows: it has no AVX-512
  OPENBLAS_CORETYPE=Haswell OPENBLAS_NUM_THREADS=1 valgrind --quiet --error-exitcode=99 --leak-check=full --errors-for-leak-kinds=definite \
    --suppressions=tests/analysers/valgrind.supp build/release/plateproof inspect -q --threads 1 data/demo/plate.ini -o "$folder/report"
  local status=$?
  [ "$status" -eq 1 ] && [ -s "$folder/report/results.json" ] && echo "valgrind: nothing wrong over the demo plate"
}

# demo PRESET: the demo plate with two threads under a sanitizer
demo() {
  rm -rf "$logs/demo-$1"
  LSAN_OPTIONS=suppressions=tests/support/leaks.supp:print_suppressions=0 \
    TSAN_OPTIONS=suppressions=tests/analysers/threads.supp \
    "build/$1/plateproof" inspect -q --threads 2 data/demo/plate.ini -o "$logs/demo-$1"
  [ $? -eq 1 ] && [ -s "$logs/demo-$1/results.json" ]
}

long_checks() {
  have valgrind valgrind && try valgrind memory_checked
  build asan && try asan_demo demo asan && try asan_tests ctest --test-dir build/asan -j2 --output-on-failure
  build tsan && try tsan_demo demo tsan && try tsan_tests ctest --test-dir build/tsan -L threads --output-on-failure
  have gcovr coverage && build coverage && try coverage_tests ctest --test-dir build/coverage -j2 -LE slow --output-on-failure &&
    try coverage gcovr --root . --filter src/ --gcov-ignore-parse-errors --fail-under-line 90 --object-directory build/coverage build/coverage
}

from_outside() {
  bad_input
  inject_faults
}

from_inside() {
  try metamorphic "$python" tests/metamorphic/metamorphic.py build/release/plateproof
  fuzz_all
  analyse
}

# Nearly all of it keeps one core busy.
build release || exit 1
from_outside &
from_inside
wait
[ "$how" = long ] && long_checks

files=$(($(count bad_tables "bad files") + $(count bad_jobs "bad jobs and rule files") +
  $(count strange_files "strange files and jobs") + $(count sizes "limits tried")))
executions=$(cat "$logs"/fuzz_*.log 2>/dev/null | sed -nE 's/^Done ([0-9]+) runs.*/\1/p' | awk '{n += $1} END {print n + 0}')
faults=$(($(count allocations "allocations failed on purpose") + $(count full_disk "runs that could not") +
  $(count signals "signals sent")))
relations=$(count metamorphic relations)
failures=$(noted failed)
echo "$files files tried, $executions executions, $faults faults injected, $relations relations held, $(noted skipped) checks skipped, $failures failures"
[ "$failures" -eq 0 ]
