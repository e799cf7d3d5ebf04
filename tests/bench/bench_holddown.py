"""Hold-down: growth with the number of holes, and SciPy on the same contact problems, in one run.

    bench_holddown.py BUILD_FOLDER [HOLES,HOLES,... [ROUNDS]]

Growth: whole studies on the 32-cell mesh, two threads, medians of the rounds. The share of a study that does not depend on the holes (the plate) is given apart.

Peer: each hole's contact problem as a quadratic program, min r'Gr/2 + (gap - F column)'r over r >= 0 with
R'r = load + F rigid, by SciPy's non-negative least squares with the balance weighted in. It must give the
same gap under the foot. Without SciPy only plateproof's own figures are printed.
"""
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time

import growth as exponent

SIZES = "2500,5000,10000"
PEER_HOLES = 60
AGREE_MM = 2e-4  # the balance is weighted in, not imposed


def run(*arguments):
    done = subprocess.run(arguments, check=True, capture_output=True, text=True)
    return json.loads(done.stdout)


def median_study(program, holes, rounds):
    found = [run(program, "study", holes, "2") for _ in range(rounds)]
    return {key: statistics.median(f[key] for f in found) for key in found[0]}


def growth(program, sizes, rounds):
    found = [median_study(program, holes, rounds) for holes in sizes.split(",")]
    print(f"whole studies, 2 threads, medians of {rounds} rounds")
    for f in found:
        print(f"{f['holes']:6.0f} holes: plate {f['plate']:.2f} s, every hole "
              f"{f['per_hole']:.2f} s, turned over {f['turned']:.2f} s, plans of both "
              f"({f['clamps']:.0f} clamps as laid) {f['plans']:.2f} s; total {f['total']:.2f} s (processor {f['cpu']:.2f} s), "
              f"{f['megabytes']:.0f} MB")
    for part, what in (("per_hole", "every hole"), ("cpu", "the whole study, processor")):
        exponent.say(what, [f["holes"] for f in found], [f[part] for f in found])


def read_small(np, path):
    data = np.fromfile(path)
    m, holes, force = int(data[0]), int(data[1]), data[2]
    at = 3
    g = data[at:at + m * m].reshape(m, m)
    at += m * m
    r = data[at:at + 3 * m].reshape(3, m).T
    at += 3 * m
    gap, load = data[at:at + m], data[at + m:at + m + 3]
    at += m + 3
    rows = data[at:].reshape(holes, m + 6)
    return g, r, gap, load, force, rows


def solve_all(np, scipy, g, r, gap, load, force, rows):
    """Seconds, and the largest difference from the gap under the foot that plateproof found."""
    cholesky, solve_triangular, nnls = scipy
    m = len(gap)
    start, worst = time.perf_counter(), 0.0
    weight = 1e4 * np.trace(g) / m
    root = cholesky(g + weight * r @ r.T + 1e-12 * np.trace(g) / m * np.eye(m))  # root' root
    for row in rows:
        column, rigid, self_give, height, answer = row[:m], row[m:m + 3], row[m + 3], row[m + 4], row[m + 5]
        balance = load + force * rigid
        linear = gap - force * column - weight * r @ balance
        reaction, _ = nnls(root, solve_triangular(root, -linear, trans="T"), maxiter=100 * m)
        motion = weight * (r.T @ reaction - balance)  # the weighted balance's multiplier
        under_foot = height + column @ reaction - force * self_give + rigid @ motion
        worst = max(worst, abs(under_foot - answer))
    return time.perf_counter() - start, worst


def peer(program, rounds):
    try:
        import numpy as np
        from scipy.linalg import cholesky, solve_triangular
        from scipy.optimize import nnls
    except ImportError:
        print("SciPy is missing: no comparison")
        return 0
    with tempfile.NamedTemporaryFile() as file:
        seconds = statistics.median(run(program, "small", str(PEER_HOLES), file.name)["seconds"]
                                    for _ in range(rounds))
        g, r, gap, load, force, rows = read_small(np, file.name)
    m = len(gap)
    found = [solve_all(np, (cholesky, solve_triangular, nnls), g, r, gap, load, force, rows)
             for _ in range(rounds)]
    theirs, worst = statistics.median(f[0] for f in found), max(f[1] for f in found)
    print(f"peer: {len(rows)} holes, {m} supports, medians of {rounds} rounds: SciPy {1e3 * theirs:.0f} ms, plateproof "
          f"(1 thread) {1e3 * seconds:.1f} ms: {theirs / seconds:.0f} times quicker; largest difference {worst:.1e} mm")
    return 0 if worst <= AGREE_MM else 1


def main():
    program = os.path.join(sys.argv[1], "tests/bench/bench_holddown")
    rounds = int(sys.argv[3]) if len(sys.argv) > 3 else 3
    growth(program, sys.argv[2] if len(sys.argv) > 2 else SIZES, rounds)
    return peer(program, rounds)


if __name__ == "__main__":
    sys.exit(main())
