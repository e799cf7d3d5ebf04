#!/usr/bin/env python3
"""Straight passage and placement of an invented bundle, beside scipy's HiGHS on a sample of its tubes.

    bench_bundle.py BUILD TUBESxPLATES[,...] ROUNDS
"""
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "bundle"))
import growth  # noqa: E402
import oracle  # noqa: E402

THREADS = 2


def main():
    program = Path(sys.argv[1]) / "tests/bench/bench_bundle"
    rounds = sys.argv[3]
    print(f"{'tubes x plates':>15} {'straight s':>11} {'placed s':>9} {'MiB':>5} {'peer s a tube':>14} "
          f"{'ours s a tube':>14} {'ratio':>8} {'apart mm':>9}")
    pairs, seconds = [], []
    for size in sys.argv[2].split(","):
        tubes, plates = size.split("x")
        said = subprocess.run([program, tubes, plates, rounds, str(THREADS)], capture_output=True, text=True, check=True)
        head, *lines = said.stdout.splitlines()
        straight, placed, _, memory = head.split()
        apart, spent = 0.0, 0.0
        for line in lines:
            _, radius, count, *numbers = line.split()
            discs = [tuple(float(v) for v in numbers[4 * i:4 * i + 4]) for i in range(int(count))]
            begin = time.perf_counter()
            low, high = oracle.line(discs)
            spent += time.perf_counter() - begin
            apart = max(apart, low - float(radius), float(radius) - high)
        peer, ours = spent / len(lines), THREADS * float(straight) / int(tubes)
        print(f"{size:>15} {straight:>11} {placed:>9} {memory:>5} {peer:14.5f} {ours:14.7f} {peer / ours:8.0f} {apart:9.1e}")
        pairs.append(int(tubes) * int(plates))
        seconds.append(float(straight))
        assert apart < 1e-8, "the two answers differ"
    growth.say("straight passage, with tubes times plates", pairs, seconds)


main()
