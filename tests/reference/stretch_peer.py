#!/usr/bin/env python3
"""How much more than bending it takes to press a dome down, by all of von Karman's equations, from outside.

    stretch_peer.py PROGRAM

A plate of revolution, stress-free as a spherical cap one or three thicknesses high, held up along its rim and pushed
down in the middle (a ring: along its inner edge): cubic finite elements in the radius for deflection and displacement in
the plane, the large slopes of von Karman's plate in full, Newton's method (numpy). Against the program: the factor
of a survey of that dome, its `von_karman_factor` f, says 1 + (f - 1)(1 + a) a where the share a of the dome is left.
"""
import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    import numpy as np
except ImportError:
    sys.exit(77)

RADIUS, THICKNESS, E, NU, ELEMENTS, STEPS = 1000.0, 20.0, 2e5, 0.3, 10, 6
RIGIDITY, MEMBRANE = E * THICKNESS ** 3 / 12 / (1 - NU ** 2), E * THICKNESS / (1 - NU ** 2)
WITHIN, WITHIN_PEAK = 0.13, 0.08  # of the ratio: one term against all of them


class Dome:
    """Unknowns of each circle: w, dw/dr, u, du/dr."""

    def __init__(self, bore, height):
        self.r = np.linspace(bore, RADIUS, ELEMENTS + 1)
        if not bore:  # the middle is pushed through a ring, as a foot does
            self.r[1] = 75.0
        self.pushed = 0 if bore else 4
        self.start = np.zeros(4 * len(self.r))
        self.start[0::4] = height * (1 - (self.r / RADIUS) ** 2)
        self.start[1::4] = -2 * height * self.r / RADIUS ** 2
        self.slope0 = lambda x: -2 * height * x / RADIUS ** 2
        fixed = {4 * (len(self.r) - 1), self.pushed} | (set() if bore else {1, 2})
        self.free = np.array([i for i in range(len(self.start)) if i not in fixed])
        self.points = [p for e in range(ELEMENTS) for p in self.gauss(e)]

    def gauss(self, e):
        h = self.r[e + 1] - self.r[e]
        for g, weight in zip(*np.polynomial.legendre.leggauss(4)):
            s = (g + 1) / 2
            x = self.r[e] + s * h
            shape = np.array([1 - 3 * s * s + 2 * s ** 3, h * (s - 2 * s * s + s ** 3), 3 * s * s - 2 * s ** 3, h * (s ** 3 - s * s)])
            first = np.array([6 * s * s - 6 * s, h * (1 - 4 * s + 3 * s * s), 6 * s - 6 * s * s, h * (3 * s * s - 2 * s)]) / h
            second = np.array([12 * s - 6, h * (6 * s - 4), 6 - 12 * s, h * (6 * s - 2)]) / h ** 2
            w = 4 * e + np.array([0, 1, 4, 5])
            yield x, weight * h * math.pi * x, shape, first, second, w, w + 2

    def stiffness(self, q, stretch=True):
        """Tangent and residual; without stretching those of the linear plate."""
        k, f = np.zeros((len(q), len(q))), np.zeros(len(q))
        law = np.array([[1, NU], [NU, 1]])
        for x, area, shape, first, second, w, u in self.points:
            both = np.concatenate([w, u])
            bend = np.zeros((2, 8))
            bend[0, :4], bend[1, :4] = second, first / x
            stress = RIGIDITY * law @ (bend @ (q - self.start)[both])
            inner = bend.T @ stress
            tangent = RIGIDITY * bend.T @ law @ bend
            plane = np.zeros((2, 8))
            plane[0, 4:], plane[1, 4:] = first, shape / x
            force = np.zeros(2)
            if stretch:
                slope = first @ q[w]
                force = MEMBRANE * law @ np.array([first @ q[u] + (slope ** 2 - self.slope0(x) ** 2) / 2, shape @ q[u] / x])
                plane[0, :4] = slope * first
                tangent[:4, :4] += force[0] * np.outer(first, first)
            f[both] += area * (inner + plane.T @ force)
            k[np.ix_(both, both)] += area * (tangent + MEMBRANE * plane.T @ law @ plane)
        return k, f

    def push_stiffness(self, k):
        free, p = self.free, self.pushed
        return k[p, p] - k[p, free] @ np.linalg.solve(k[np.ix_(free, free)], k[free, p])

    def way_down(self):
        """Forces over the linear plate's: at the first push, half way; the highest over the linear one when flat."""
        linear = self.push_stiffness(self.stiffness(self.start, stretch=False)[0])
        first = self.push_stiffness(self.stiffness(self.start)[0]) / linear
        q, forces, high = self.start.copy(), [], self.start[self.pushed]
        for step in range(1, STEPS + 1):
            target = high * (1 - step / STEPS)
            for _ in range(40):
                k, f = self.stiffness(q)
                move = np.zeros(len(q))
                move[self.pushed] = target - q[self.pushed]
                move[self.free] = np.linalg.solve(k[np.ix_(self.free, self.free)], -f[self.free] - k[self.free, self.pushed] * move[self.pushed])
                q += move
                if abs(move[0::4]).max() < 1e-7:
                    break
            else:
                raise SystemExit("stretch_peer: Newton's method did not settle")
            forces.append(-self.stiffness(q)[1][self.pushed])
        half = forces[STEPS // 2 - 1] / (linear * high / 2)
        return first, half, max(forces) / (linear * high)


def factor_of(program, folder, bore, height):
    """von_karman_factor of a survey of the dome."""
    points = [(x, y) for x in range(-990, 991, 60) for y in range(-990, 991, 60) if bore < math.hypot(x, y) < RADIUS]
    (folder / "survey.csv").write_text("x,y,z\n" + "".join(
        f"{x},{y},{height * (1 - (x * x + y * y) / RADIUS ** 2):.5f}\n" for x, y in points))
    (folder / "nominal.csv").write_text("id,x,y\nA,800,0\n")
    outline = f"outline = annulus\ninner_diameter = {2 * bore}" if bore else "outline = disc"
    (folder / "job.ini").write_text(
        f"[plate]\n{outline}\ndiameter = {2 * RADIUS}\nthickness = {THICKNESS}\nelastic_modulus = {E}\npoisson_ratio = {NU}\n"
        "density = 7850\n[survey]\nfile = survey.csv\nuncertainty = 0.002\nlaid = free\n[support]\nkind = table\nseat = rest\n"
        "[foot]\nforce = 1000\n[holddown]\ngap_limit = 0.5\n[holes]\nnominal = nominal.csv\n")
    run = subprocess.run([program, "holddown", "--json", folder / "job.ini"], capture_output=True, text=True, timeout=120)
    if run.returncode not in (0, 1):
        raise SystemExit(run.stderr)
    found = json.loads(run.stdout)["holddown"]
    assert found["forces_low"], "no word of it"
    return found["von_karman_factor"]


def main(program):
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        for bore, thicknesses in ((0, 1), (500, 3), (700, 2)):
            more = factor_of(program, Path(name), bore, thicknesses * THICKNESS) - 1
            first, half, peak = Dome(bore, thicknesses * THICKNESS).way_down()
            left = math.sqrt(max(more - 1, 0) / (3 * more))
            said = 1 + 2 * more, 1 + 0.75 * more, (1 - left) * (1 + more * (1 + left) * left) if more > 1 else 1
            rows = [("first push", first, said[0], WITHIN), ("half way", half, said[1], WITHIN), ("highest", peak, said[2], WITHIN_PEAK)]
            for what, truth, ours, within in rows:
                good = abs(ours / truth - 1) <= within
                wrong += not good
                print(f"bore {bore:3d} mm, {thicknesses} thicknesses, {what:10s} {truth:6.3f}, said {ours:6.3f}{'' if good else '  WRONG'}")
    return wrong > 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
