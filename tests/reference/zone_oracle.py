"""Minimum zones of random clouds against the width of their convex hull, found another way.

The width of a convex polytope is reached square to a face, or square to a pair of edges (Houle and
Toussaint, IEEE Trans. PAMI 10 (1988) 761). The oracle tries every face and every pair of edges of
the hull that Qhull gives and evaluates the best ones in exact rationals.

usage: zone_oracle.py ZONE_TOOL [CLOUDS [SEED]]
Exit 77: skipped, numpy or scipy is missing.
"""
import subprocess
import sys
from fractions import Fraction

try:
    import numpy as np
    from scipy.spatial import ConvexHull
except ImportError as missing:
    print(f"skipped: {missing}")
    sys.exit(77)


def rotation(rng):
    q, _ = np.linalg.qr(rng.standard_normal((3, 3)))
    return q * np.sign(np.linalg.det(q))


def cloud(rng, kind):
    """A cloud of one kind: how plates come, and what is far from a plate."""
    n = int(rng.integers(4, 70))
    p = rng.uniform(-1, 1, (n, 3))
    if kind == "plate":
        p *= [1600, 900, 10 ** rng.uniform(-2, 1)]
    elif kind == "thick":
        p *= [1, rng.uniform(0.3, 1), 10 ** rng.uniform(-1.5, 0)]
    elif kind == "ball":
        p = rng.standard_normal((n, 3))
        p /= np.linalg.norm(p, axis=1)[:, None]
    elif kind == "grid":
        i, j = np.divmod(np.arange(rng.integers(3, 12) * 9), 9)
        p = np.column_stack([i * 50.0, j * 40.0, np.round(rng.uniform(0, 1, i.size), 1)])
    elif kind == "few heights":
        i, j = np.divmod(np.arange(7 * 6), 6)
        p = np.column_stack([i * 1.0, j * 1.0, rng.integers(0, 3, i.size) * 1.0])
    elif kind == "lattice":
        p = rng.integers(-3, 4, (n + 4, 3)).astype(float)
    elif kind == "twice":
        p = np.vstack([p, p[: n // 2]]) * [100, 60, 1]
    elif kind == "few":
        p = rng.uniform(-1, 1, (int(rng.integers(4, 7)), 3))
    turned = rng.random() < 0.5
    if turned:
        p = p @ rotation(rng).T
    if rng.random() < 0.3:
        p = p + rng.uniform(-1e3, 1e3, 3)
    return p


def hull_edges(hull):
    edges = set()
    for simplex in hull.simplices:
        for a in range(3):
            edges.add(tuple(sorted((int(simplex[a]), int(simplex[(a + 1) % 3])))))
    return sorted(edges)


def exact_width(points, first, second):
    """Width square to the exact cross product of two exact vectors, as a float."""
    n = [first[1] * second[2] - first[2] * second[1],
         first[2] * second[0] - first[0] * second[2],
         first[0] * second[1] - first[1] * second[0]]
    along = [n[0] * p[0] + n[1] * p[1] + n[2] * p[2] for p in points]
    spread, square = max(along) - min(along), n[0] ** 2 + n[1] ** 2 + n[2] ** 2
    if square == 0:
        return float("inf")
    ratio = spread * spread / square
    # the square root of a rational, to all digits of a float
    scale = 2 ** 200
    numerator = ratio.numerator * scale * scale // ratio.denominator
    root = int(numerator) and _isqrt(numerator)
    return float(Fraction(root, scale))


def _isqrt(n):
    import math
    return math.isqrt(n)


def oracle(p):
    hull = ConvexHull(p)
    corner = p[hull.vertices]
    edges = hull_edges(hull)
    e = np.array([p[b] - p[a] for a, b in edges])
    pairs = [(s[0], s[1], s[0], s[2]) for s in hull.simplices]
    i, j = np.triu_indices(len(edges), 1)
    pairs += [edges[a] + edges[b] for a, b in zip(i, j)]
    first = np.array([p[q[1]] - p[q[0]] for q in pairs])
    second = np.array([p[q[3]] - p[q[2]] for q in pairs])
    n = np.cross(first, second)
    length = np.linalg.norm(n, axis=1)
    good = length > 1e-9 * np.linalg.norm(first, axis=1) * np.linalg.norm(second, axis=1)
    along = (n[good] / length[good, None]) @ corner.T
    width = along.max(axis=1) - along.min(axis=1)
    index = np.flatnonzero(good)[np.argsort(width, kind="stable")[:6]]
    exact = [[Fraction(float(c)) for c in row] for row in corner]
    best = float("inf")
    for k in index:
        a, b, c, d = ([Fraction(float(v)) for v in p[m]] for m in pairs[k])
        best = min(best, exact_width(exact, [t - f for f, t in zip(a, b)],
                                     [t - f for f, t in zip(c, d)]))
    return best


KINDS = ["plate", "thick", "ball", "grid", "few heights", "lattice", "twice", "few"]


def main():
    tool = sys.argv[1]
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 80
    rng = np.random.default_rng(int(sys.argv[3]) if len(sys.argv) > 3 else 20261120)
    clouds = []
    while len(clouds) < count:
        kind = KINDS[len(clouds) % len(KINDS)]
        p = cloud(rng, kind)
        if np.linalg.matrix_rank(p - p.mean(axis=0), tol=1e-9) == 3:
            clouds.append((kind, p))
    text = "".join(f"{len(p)}\n" + "".join(f"{float(a).hex()} {float(b).hex()} {float(c).hex()}\n"
                                           for a, b, c in p) for _, p in clouds)
    run = subprocess.run([tool], input=text, capture_output=True, text=True)
    if run.returncode:
        sys.exit(f"zone_tool failed: {run.stderr}")
    failures, worst = 0, 0.0
    for number, ((kind, p), line) in enumerate(zip(clouds, run.stdout.splitlines())):
        word = line.split()
        got, exact, want = float.fromhex(word[1]), word[5] == "1", oracle(p)
        off = abs(got - want) / want
        # what rounding within the coordinates allows, and 1e-12 at best
        allowed = max(1e-12, 4e-16 * np.abs(p).max() / want)
        worst = max(worst, off)
        if off > allowed or not exact:
            failures += 1
            print(f"cloud {number} ({kind}, {len(p)} points): got {got!r}, want {want!r}, "
                  f"off {off:.2e} relative, exact {exact}")
    print(f"{len(clouds)} clouds, largest relative difference {worst:.1e}, {failures} failures")
    sys.exit(1 if failures else 0)


main()
