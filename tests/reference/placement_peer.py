"""Compare the smallest zone with a dense angle search in NumPy and SciPy.

    placement_peer.py BENCH_PLACEMENT

The peer shares nothing with the program: at each of many angles over the full circle the best shift
comes from every pair and triple of points (or, with allowances, from SLSQP), and the best angles are
refined by a bounded scalar minimiser. Its value can't be below the program's proven bound and must
agree with the program's value. Exit 77 (skipped) without NumPy and SciPy.
"""
import itertools
import json
import subprocess
import sys

try:
    import numpy as np
    from scipy.optimize import minimize, minimize_scalar
except ImportError:
    print("skipped: this test needs NumPy and SciPy (apt install python3-scipy)")
    sys.exit(77)

ANGLES = 360
AGREE_MM = 1e-8


def shifted_points(case, angle):
    c, s = np.cos(angle), np.sin(angle)
    x = case["nx"] - (c * case["mx"] - s * case["my"])
    y = case["ny"] - (s * case["mx"] + c * case["my"])
    return np.column_stack([x, y])


def smallest_circle(points):
    """Radius of the smallest circle around points: the smallest of all candidate circles."""
    n = len(points)
    centres = [points.mean(axis=0)[None]]
    i, j = np.array(list(itertools.combinations(range(n), 2))).T
    centres.append((points[i] + points[j]) / 2)
    if n > 2:
        i, j, k = np.array(list(itertools.combinations(range(n), 3))).T
        a, b = points[j] - points[i], points[k] - points[i]
        det = 2 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
        good = np.abs(det) > 1e-300
        a, b, det, base = a[good], b[good], det[good], points[i][good]
        aa, bb = (a ** 2).sum(axis=1), (b ** 2).sum(axis=1)
        centre = np.column_stack([b[:, 1] * aa - a[:, 1] * bb, a[:, 0] * bb - b[:, 0] * aa])
        centres.append(base + centre / det[:, None])
    centres = np.concatenate(centres)
    worst = np.hypot(*(centres[:, None, :] - points[None]).transpose(2, 0, 1)).max(axis=1)
    return worst.min()


def with_allowances(points, allowance):
    start = np.append(points.mean(axis=0), 0)
    start[2] = (np.hypot(*(points - start[:2]).T) - allowance).max()

    def room(v):
        return v[2] + allowance - np.hypot(v[0] - points[:, 0], v[1] - points[:, 1])

    found = minimize(lambda v: v[2], start, jac=lambda v: np.array([0, 0, 1.0]), method="SLSQP",
                     constraints={"type": "ineq", "fun": room},
                     options={"ftol": 1e-15, "maxiter": 300})
    v = found.x
    return (np.hypot(*(points - v[:2]).T) - allowance).max()


def value_at(case, angle):
    points = shifted_points(case, angle)
    if case["allowance"].any():
        return with_allowances(points, case["allowance"])
    return smallest_circle(points)


def search(case):
    if case["allowance"].any():
        # a coarse look without allowances finds the neighbourhood, SLSQP in three unknowns the value
        bare = dict(case, allowance=0 * case["allowance"])
        angles = [search(bare)[1]]
        width = 2e-3
    else:
        angles = np.linspace(-np.pi, np.pi, ANGLES, endpoint=False)
        values = np.array([value_at(case, t) for t in angles])
        lower = (values <= np.roll(values, 1)) & (values <= np.roll(values, -1))
        angles = angles[lower][np.argsort(values[lower])][:4]
        width = 2 * np.pi / ANGLES
    best = (np.inf, 0.0)
    for centre in angles:
        w = width
        for _ in range(3):  # the bounded minimiser stops at about 1e-8 of the interval
            found = minimize_scalar(lambda d: value_at(case, centre + d), bounds=(-w, w),
                                    method="bounded", options={"xatol": 1e-14, "maxiter": 200})
            if found.fun < best[0]:
                best = (found.fun, centre + found.x)
            centre, w = best[1], w * 1e-3
    return best


def main():
    text = subprocess.run([sys.argv[1], "small", "577215"], check=True, capture_output=True,
                          text=True).stdout
    failed, largest = 0, 0.0
    for number, line in enumerate(text.splitlines()):
        case = {k: np.array(v) if isinstance(v, list) else v for k, v in json.loads(line).items()}
        peer, angle = search(case)
        off = peer - case["radius"]
        largest = max(largest, abs(off))
        good = abs(off) <= AGREE_MM and peer >= case["lower_bound"] - 1e-9
        failed += not good
        print(f"plate {number:2d}, {len(case['mx']):2d} holes: {case['radius']:.12g} mm, "
              f"peer {off:+.2e}{'' if good else '  DIFFERS'}")
    print(f"largest difference {largest:.2e} mm")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
