#!/usr/bin/env bash
# Speed, shown as ratios in one run against peers written with general-purpose libraries.
#   scripts/bench.sh                      every workload, some 15 to 25 minutes; writes docs/benchmarks.md
#   scripts/bench.sh --resume             the same, without the workloads that a run of this commit has finished already
#   scripts/bench.sh --small [WORKLOAD..] small sizes, a few seconds each: shows that it works; writes nothing
#   scripts/bench.sh WORKLOAD...          some of flatness holes holddown plates report placement diagnosis stack bundle history many; writes nothing
#   scripts/bench.sh --against REV [--small]   only: an earlier revision and this tree in pairs; writes nothing
# Each prints seconds, peak memory and the ratio to its peer over several sizes and rounds, and how the time grows with
# the size. Never a test: nothing here is judged. Wants an idle machine.
set -euo pipefail
cd "$(dirname "$0")/.."
all=(flatness holes holddown plates report placement diagnosis stack bundle history many)

# sizes WORKLOAD full|small: what the workload's script is given
sizes() {
  case $1-$2 in
  flatness-full) echo --sizes 100000,300000,1000000,10000000 --rounds 3 ;;
  flatness-small) echo --sizes 400,3000,10000,30000 --rounds 3 ;;
  holes-full) echo 30000,100000,300000,1000000 3 ;;
  holes-small) echo 1000,3000,10000,30000 3 ;;
  holddown-full) echo 5000,10000,20000,40000 3 ;;
  holddown-small) echo 200,400,800,1600 1 ;;
  plates-full) echo 1 3 ;;
  plates-small) echo 0.05 1 ;;
  report-full) echo 36,57,100,333 3 ;; # rings of a triangular pattern: 3997 to 333,667 holes
  report-small) echo 8,12,20,36 3 ;;
  placement-full) echo 10000,30000,100000,1000000 ;;
  placement-small) echo 1000,3000,10000,30000 ;;
  stack-full) echo 500,1000,2000,4000 2 ;;
  stack-small) echo 60,120,240,480 1 ;;
  bundle-full) echo 3000x10,10000x10,10000x30,30000x30 3 ;;
  bundle-small) echo 300x6,500x6,500x10,1000x10 1 ;;
  history-full) echo 1000,3000,10000,30000 30000 3 ;;
  history-small) echo 100,200,300,600 1000 3 ;;
  many-full) echo 25,50,100,200 4000 ;;
  many-small) echo 2,4,6,8 300 ;;
  diagnosis-full) echo 10000,30000,100000,300000 ;;
  diagnosis-small) echo 1000,3000,10000,30000 ;;
  esac
}

# what is measured and what stands beside it
about() {
  case $1 in
  flatness) echo "A survey of points in a CSV file. \`peer\`: pandas reads it, an eigenvalue problem gives the least-squares plane, Qhull the convex hull and HiGHS the minimum zone of its corners; its imports are not counted. \`zone\`: the same answer, with a proof, from plateproof's reader, least-squares plane and minimum zone, whole process. \`flatness\`: \`plateproof flatness\` with fitted surface, areas, two straightedges and the report folder, whole process. The two zones must agree to 1e-9 mm." ;;
  holes) echo "A triangular pattern as nominal list, and measured with shuffled rows. \`peer\`: pandas and scipy read, merge by name, fit, compute positions, classes and the ligaments of all neighbours, and write two CSVs. \`ours\`: \`plateproof holes\` does that and all the rest of the report. \`compute\`: the same without the report's files." ;;
  holddown) echo "Whole studies with contact at every hole: the plate, every hole under the foot, the plan of clamps, the plate turned over. No general-purpose library does this; beside it SciPy's non-negative least squares solves the same small contact problems, and must give the same gap." ;;
  plates) echo "Hold-down of plates that are hard to lay, whole process with report on two threads: a bowl, a sheet as thin as a baffle, a large thin plate that rocks. No general-purpose library does this." ;;
  report) echo "Writing alone: an answer made up in memory becomes pages and tables. Beside it pandas writes the two large tables, the same rows and columns; the ratio is that of the tables." ;;
  placement) echo "The smallest zone that any placement of the pattern allows. Beside it what one would write in SciPy: least squares, then SLSQP over the worst holes in turn; it gives the value, no proof." ;;
  stack) echo "Eight layers, whole command with fits, every hole under the foot and the report folder, as listed and with the search for a better order. Beside it \`plateproof holddown\` of one layer with the same holes: the ratio is what the other seven cost. No general-purpose library does this." ;;
  bundle) echo "Tubes x plates with scattered holes: straight passage of every tube, as set out and with the plates placed. Beside it SciPy solves the same cone programmes for a sample of the tubes; margins must agree." ;;
  history) echo "Questions to a history of many plates, whole process, beside pandas that reads the same rows of the same file and works out centre and limits, a slope, groups. Its imports are not counted, nor is the start of the program with its libraries, which stands beside it. Then a report with many holes is added, and one that is there already." ;;
  many) echo "Whole reports of many plates: one call on one processor and on two, and a process for each plate by GNU parallel (xargs where that is missing). The ratio is of wall times: 2 where the second processor is used fully." ;;
  diagnosis) echo "What the machine did, from the errors and the drilling order. No peer: no general-purpose library does this." ;;
  esac
}

# the kernel that OpenBLAS chooses on this processor
kernel() {
  "$python" -c 'import ctypes
blas = ctypes.CDLL("libopenblas.so.0")
blas.openblas_get_corename.restype = ctypes.c_char_p
print(blas.openblas_get_corename().decode())' 2>/dev/null || echo unknown
}

machine() {
  local python_libraries
  python_libraries=$("$python" -c 'import numpy, scipy, pandas; print(f"numpy {numpy.__version__}, scipy {scipy.__version__}, pandas {pandas.__version__}")' 2>/dev/null || echo "no peers")
  echo "- $(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1 | tr -s ' '), $(nproc) processors, $(awk '/MemTotal/ {printf "%.0f GiB", $2 / 1048576}' /proc/meminfo)"
  echo "- $(sed -n 's/^PRETTY_NAME="\(.*\)"/\1/p' /etc/os-release), Linux $(uname -r | cut -d. -f1,2), $(cc --version | head -n 1), OpenBLAS $(pkg-config --modversion openblas) with its $(kernel) kernel"
  echo "- $(build/release/plateproof --version), release build; Python $("$python" -c 'import platform; print(platform.python_version())'), $python_libraries"
  echo "- processes waiting or running, minute before the start: $load"
}

# against REV: build it in a folder of its own and let both programs take turns
against() {
  local revision earlier
  revision=$(git rev-parse --verify --quiet "$1^{commit}") || {
    echo "bench: there is no revision $1" >&2
    exit 2
  }
  earlier=build/against/$revision
  if [ ! -x "$earlier/build/release/plateproof" ]; then
    mkdir -p "$earlier"
    git archive "$revision" | tar x -C "$earlier"
    if ! (cd "$earlier" && cmake --preset release && cmake --build --preset release --target plateproof_program) >"$earlier.log" 2>&1; then
      echo "bench: $1 could not be built, see $earlier.log" >&2
      exit 1
    fi
  fi
  echo "- earlier: $(git log -1 --format='%h of %cs' "$revision"); now: $(git describe --always --dirty)"
  "$python" tests/bench/bench_against.py build/release "$earlier/build/release" "$size"
}

# A row of the history: what came out of the logs of this run, at the largest size of each.
history_row() {
  local flatness zone holes tables
  flatness=$(awk '/^  flatness / && /times faster/ {printf "%s%s", sep, $6; sep = " / "}' "$logs"/flatness.log)
  zone=$(awk '/^  zone / && /times faster/ {last = $6} END {print last}' "$logs"/flatness.log)
  holes=$(awk '/^peer \/ ours/ {last = $4} END {print last}' "$logs"/holes.log)
  tables=$(awk '/^ *[0-9]+ .* s +[0-9.]+$/ {last = $NF} END {print last}' "$logs"/report.log)
  echo "| $(date +%F) | $(git describe --always --dirty) | $(kernel) | $flatness | $zone | $holes | $tables | $(
    awk '/ holes: plate/ {last = $0} END {match(last, /^ *[0-9]+/); n = substr(last, RSTART, RLENGTH); match(last, /total [0-9.]+ s/)
      printf "%s s (%d holes)", substr(last, RSTART + 6, RLENGTH - 8), n}' "$logs"/holddown.log) |"
}

size=full names=() revision="" resume=""
while [ $# -gt 0 ]; do
  word=$1
  shift
  case $word in
  --against)
    [ $# -gt 0 ] || { echo "bench: --against wants a revision" >&2; exit 2; }
    revision=$1
    shift ;;
  --small) size=small ;;
  --resume) resume=yes ;;
  *)
    if [[ " ${all[*]} " != *" $word "* ]]; then
      echo "bench: no workload is called $word; there are ${all[*]}" >&2
      exit 2
    fi
    names+=("$word") ;;
  esac
done
page=""
[ ${#names[@]} -gt 0 ] || { names=("${all[@]}"); [ $size = small ] || page=docs/benchmarks.md; }
load=$(cut -d' ' -f1 /proc/loadavg)

scripts/setup.sh --test
scripts/build.sh release
python=/usr/bin/python3
[ -x "$python" ] || python=python3
machine
if [ -n "$revision" ]; then
  against "$revision"
  exit
fi

# The logs of a run of everything stay, so that a later one goes on where it was stopped.
logs=build/bench/some
[ -z "$page" ] || logs=build/bench/all
mkdir -p "$logs"
commit=$(git describe --always --dirty)
if [ -n "$page" ] && ! { [ -n "$resume" ] && [ "$(cat "$logs/commit" 2>/dev/null)" = "$commit" ]; }; then
  rm -f "$logs"/*.log
  echo "$commit" >"$logs/commit"
fi

draft=build/benchmarks.md failed=()
{
  echo "# How fast it is"
  echo
  echo "<!-- Written by scripts/bench.sh. -->"
  echo
  echo "Every ratio comes from one run in which plateproof and a peer, written with numpy, scipy and pandas, take turns on the"
  echo "same data. Seconds are medians of the rounds, memory is the peak of a process. Only ratios mean much on another machine."
  echo
  machine
} >$draft
for name in "${names[@]}"; do
  echo
  log=$logs/$name.log
  if [ -n "$page" ] && [ -s "$log" ]; then
    echo "== $name: measured already, see $log"
  else
    echo "== $name"
    began=$SECONDS
    # shellcheck disable=SC2046
    if ! "$python" "tests/bench/bench_$name.py" build/release $(sizes "$name" $size) | tee "$log.part"; then
      failed+=("$name")
      continue
    fi
    mv "$log.part" "$log"
    echo "== $name took $((SECONDS - began)) s"
  fi
  {
    echo
    echo "## ${name^}"
    echo
    about "$name" | fold -s -w 118 | sed 's/ $//'
    echo
    echo '```'
    cat "$log"
    echo '```'
  } >>$draft
done
if [ ${#failed[@]} -gt 0 ]; then
  echo "bench: failed: ${failed[*]}; the others are in $logs${page:+, and $page is as it was; --resume measures what is missing}" >&2
  exit 1
fi
if [ -n "$page" ]; then
  {
    echo
    echo "## History"
    echo
    echo "Ratios to the peers as above, at the largest size (of flatness at every size), and seconds of the largest hold-down."
    echo
    echo "| run | commit | kernel | flatness | zone | holes | tables | hold-down |"
    echo "| --- | --- | --- | --- | --- | --- | --- | --- |"
    sed -n '/^## History/,$p' "$page" | grep -E '^\| [0-9]{4}-' || true
    history_row
  } >>$draft
  mv $draft "$page"
  echo
  echo "bench: wrote $page"
fi
