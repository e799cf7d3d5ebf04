#!/usr/bin/env bash
# Speed, shown as ratios in one run against a peer written with general-purpose libraries.
#   scripts/bench.sh [flatness|holes|placement|diagnosis|holddown|report ...]   (default: all)
# Each prints seconds, peak memory and the ratio to its peer. Never a test: nothing here is judged.
set -euo pipefail
cd "$(dirname "$0")/.."
scripts/setup.sh --test
scripts/build.sh release
python=/usr/bin/python3
[ -x "$python" ] || python=python3

names=("$@")
[ ${#names[@]} -gt 0 ] || names=(flatness holes placement diagnosis holddown report)
echo "machine: $(nproc) processors, $(awk '/MemTotal/ {printf "%.0f GiB", $2 / 1048576}' /proc/meminfo), $(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1)"
for name in "${names[@]}"; do
  script=tests/bench/bench_$name.py
  if [ ! -f "$script" ]; then
    echo "bench: no workload is called $name; there are $(ls tests/bench/bench_*.py | sed 's/.*bench_//;s/\.py//' | tr '\n' ' ')" >&2
    exit 2
  fi
  echo
  echo "== $name"
  "$python" "$script" build/release
done
