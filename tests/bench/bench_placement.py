"""Smallest zone of many holes: plateproof against NumPy and SciPy, in one run.

    bench_placement.py BUILD_FOLDER [COUNT,COUNT,...]      (a million)

The peer is what one would write in SciPy: a least-squares fit, then SLSQP in turn, shift and zone over
the worst 200 holes, a pass over all holes, and again with whoever was worse. It gives a value, no proof.
Without SciPy only plateproof's own figures are printed.
"""
import json
import os
import subprocess
import sys
import tempfile
import time

import growth

WORST = 200
AGREE_MM = 1e-6


def residuals(np, data, pose):
    mx, my, nx, ny = data
    c, s = np.cos(pose[0]), np.sin(pose[0])
    return c * mx - s * my + pose[1] - nx, s * mx + c * my + pose[2] - ny


def peer_zone(np, minimize, data):
    data = [v - v.mean() for v in data]
    mx, my, nx, ny = data
    pose = np.array([np.arctan2(mx @ ny - my @ nx, mx @ nx + my @ ny), 0, 0])
    chosen = np.array([], dtype=int)
    while True:
        distance = np.hypot(*residuals(np, data, pose))
        worst = distance.max()
        new = np.setdiff1d(np.argpartition(-distance, WORST)[:WORST], chosen)
        if len(chosen) and worst <= reached + 1e-9:
            return worst
        chosen = np.append(chosen, new)
        some = [v[chosen] for v in data]
        start, size = pose, 1e3  # mm per rad, so that all unknowns are of one size

        def room(v, some=some, start=start):
            x, y = residuals(np, some, start + np.array([v[0] / size, v[1], v[2]]))
            return v[3] - np.hypot(x, y)

        found = minimize(lambda v: v[3], [0, 0, 0, worst], jac=lambda v: np.array([0, 0, 0, 1.0]),
                         method="SLSQP", constraints={"type": "ineq", "fun": room},
                         options={"ftol": 1e-13, "maxiter": 200})
        pose = start + np.array([found.x[0] / size, found.x[1], found.x[2]])
        reached = np.hypot(*residuals(np, some, pose)).max()


def one(program, count, seen):
    with tempfile.NamedTemporaryFile() as coordinates:
        process = subprocess.Popen([program, "large", count, coordinates.name], stdout=subprocess.PIPE)
        own = json.loads(process.stdout.read())
        seen.append((own["count"], own["seconds"]))
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        print(f"plateproof: {own['count']} holes, {own['threads']} threads, best of 7: "
              f"{1e3 * own['seconds']:.1f} ms; zone "
              f"{2 * own['radius']:.10f} mm, gap {own['radius'] - own['lower_bound']:.1e} mm, "
              f"{own['passes']} passes, working set {own['working_set']}")
        print(f"peak memory {used.ru_maxrss / 1024:.0f} MB, the coordinates included")
        try:
            import numpy as np
            from scipy.optimize import minimize
        except ImportError:
            print("no peer: needs NumPy and SciPy (apt install python3-scipy)")
            return 0
        data = list(np.fromfile(coordinates.name).reshape(4, -1))
    best, one_pass = np.inf, np.inf
    for _ in range(3):
        begin = time.perf_counter()
        value = peer_zone(np, minimize, data)
        best = min(best, time.perf_counter() - begin)
        begin = time.perf_counter()
        np.hypot(*residuals(np, data, [0, 0, 0])).max()
        one_pass = min(one_pass, time.perf_counter() - begin)
    off = value - own["radius"]
    print(f"NumPy and SciPy: {1e3 * best:.0f} ms (a single NumPy pass {1e3 * one_pass:.0f} ms), "
          f"zone {2 * value:.10f} mm ({off:+.1e} against plateproof's radius)")
    print(f"ratio: {best / own['seconds']:.0f} times faster, and proven")
    return int(abs(off) > AGREE_MM)


def main():
    program = os.path.join(sys.argv[1], "tests/bench/bench_placement")
    counts = sys.argv[2] if len(sys.argv) > 2 else "1000000"
    seen = []
    status = max(one(program, count, seen) for count in counts.split(","))
    growth.say("plateproof", *zip(*seen))
    return status


if __name__ == "__main__":
    sys.exit(main())
