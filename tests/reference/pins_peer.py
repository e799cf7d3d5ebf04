#!/usr/bin/env python3
"""A flat plate on the pins that `plateproof pins` found, by another finite element.

    pins_peer.py PROGRAM

Holes of 47 mm at a pitch of 60 mm, tubes that no rule set knows. The distance of every pin from every hole is
measured; the sag under foot, thrust and weight is worked out with the rectangle of twelve degrees of freedom of
Adini, Clough and Melosh (in Zienkiewicz and Taylor, The Finite Element Method), lifting pins let go one by one, and the
effective constants of the drilled part written down once more (UHX-11.5 of the ASME code, from memory).
"""
import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    import numpy as np
    from scipy.sparse import coo_matrix, csc_matrix
    from scipy.sparse.linalg import splu
except ImportError:
    sys.exit(77)

WIDTH, HEIGHT, THICK, PITCH, HOLE, PIN, CLEAR = 1800.0, 1200.0, 30.0, 60.0, 47.0, 12.0, 1.0
E, NU, WEIGHT = 206e3, 0.3, 7850 * 9.80665e-9 * THICK
FOOT, THRUST, RING = 6000.0, 2500.0, 62.5
POWERS = [(0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3), (3, 1), (1, 3)]


def holes():
    across, up = int(840 / PITCH), int(540 / (PITCH * math.sqrt(0.75)))
    made = [((i + 0.5 * (j % 2)) * PITCH, j * PITCH * math.sqrt(0.75)) for j in range(-up, up + 1) for i in range(-across, across + 1)]
    return np.array([(x, y) for x, y in made if abs(x) + HOLE / 2 <= 870])


def terms(x, y, dx=0, dy=0):
    def one(a, p, d):
        return math.prod(range(p - d + 1, p + 1)) * a ** (p - d) if p >= d else 0 * a
    return np.array([one(x, p, dx) * one(y, q, dy) for p, q in POWERS])


class Mesh:
    """w, its slope along x and along y at every node of a grid"""

    def __init__(self, nx, ny):
        self.nx, self.ny, self.a, self.b = nx, ny, WIDTH / nx, HEIGHT / ny
        rows = [terms(x, y, *d) for x, y in ((0, 0), (self.a, 0), (self.a, self.b), (0, self.b)) for d in ((0, 0), (1, 0), (0, 1))]
        self.inverse = np.linalg.inv(np.array(rows))

    def cell(self, x, y):
        i = min(max(int((x + WIDTH / 2) / self.a), 0), self.nx - 1)
        j = min(max(int((y + HEIGHT / 2) / self.b), 0), self.ny - 1)
        return i, j

    def dofs(self, i, j):
        n = self.nx + 1
        return np.concatenate([3 * k + np.arange(3) for k in (j * n + i, j * n + i + 1, (j + 1) * n + i + 1, (j + 1) * n + i)])

    def at(self, x, y):
        i, j = self.cell(x, y)
        row = np.zeros(3 * (self.nx + 1) * (self.ny + 1))
        row[self.dofs(i, j)] = terms(x + WIDTH / 2 - i * self.a, y + HEIGHT / 2 - j * self.b) @ self.inverse
        return row

    def element(self, e, nu):
        points, weights = np.polynomial.legendre.leggauss(4)
        d = e * THICK ** 3 / 12 / (1 - nu * nu) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])
        k = np.zeros((12, 12))
        for u, wu in zip(points, weights):
            for v, wv in zip(points, weights):
                x, y = self.a * (1 + u) / 2, self.b * (1 + v) / 2
                b = np.array([terms(x, y, 2, 0), terms(x, y, 0, 2), 2 * terms(x, y, 1, 1)]) @ self.inverse
                k += wu * wv * self.a * self.b / 4 * b.T @ d @ b
        return k

    def assembled(self, drilled, constants):
        whole, soft = self.element(E, NU), self.element(E * constants[0], constants[1])
        rows, columns, values, load = [], [], [], np.zeros(3 * (self.nx + 1) * (self.ny + 1))
        points, weights = np.polynomial.legendre.leggauss(4)
        even = sum(wu * wv / 4 * terms(self.a * (1 + u) / 2, self.b * (1 + v) / 2) for u, wu in zip(points, weights)
                   for v, wv in zip(points, weights)) @ self.inverse
        for j in range(self.ny):
            for i in range(self.nx):
                at = self.dofs(i, j)
                rows.append(np.repeat(at, 12)), columns.append(np.tile(at, 12))
                values.append((soft if drilled[j, i] else whole).ravel())
                load[at] += WEIGHT * self.a * self.b * even
        k = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))).tocsc()
        return k, load


def drilled_cells(mesh, field):
    part = np.zeros((mesh.ny, mesh.nx), bool)
    for j in range(mesh.ny):
        for i in range(mesh.nx):
            x, y = np.meshgrid((i + (np.arange(6) + .5) / 6) * mesh.a - WIDTH / 2, (j + (np.arange(6) + .5) / 6) * mesh.b - HEIGHT / 2)
            near = np.hypot(x.ravel()[:, None] - field[:, 0], y.ravel()[:, None] - field[:, 1]).min(axis=1)
            part[j, i] = np.mean(near <= PITCH / math.sqrt(2)) >= 0.5
    return part


def constants():
    """E*/E and nu* of a triangular pattern whose pitch is twice the thickness, nu of the solid 0.3"""
    mu = (PITCH - HOLE) / PITCH
    return (np.polyval([1.9435, -4.3657, 3.0461, 0.5279, 0.0054], mu), np.polyval([4.4298, -12.7039, 12.4325, -4.8901, 0.9100], mu))


SPRING = 1e9  # N/mm of a pin: it gives by a hundredth of a micrometre under 10 kN


def worst_sag(mesh, pins, field, drilled, star, at_middle=0.0):
    """The largest drop of a hole's middle under foot, thrust and weight, on pins that push and don't pull. All pins hold
    at first; those that would pull are let go by taking their springs out of the inverse again. The thrust acts on the
    foot's ring, as in the program, but for the share of it that acts in the hole's middle."""
    ring = [(RING * math.cos(t), RING * math.sin(t)) for t in np.arange(8) * math.pi / 4]
    stiffness, weight = mesh.assembled(drilled, star)
    reach, middle = np.array([mesh.at(*p) for p in pins]), np.array([mesh.at(*h) for h in field])
    force = np.empty_like(middle)
    for h, (x, y) in enumerate(field):
        on_plate = [(x + u, y + v) for u, v in ring if abs(x + u) <= WIDTH / 2 and abs(y + v) <= HEIGHT / 2]
        force[h] = weight + sum(mesh.at(*p) for p in on_plate) * ((FOOT + (1 - at_middle) * THRUST) / len(on_plate)) + at_middle * THRUST * middle[h]
    some = csc_matrix(reach)
    solver = splu((stiffness + SPRING * some.T @ some).tocsc())
    of_pins = solver.solve(reach.T.copy())
    give, pins_down, drop = reach @ of_pins, force @ of_pins, np.einsum("hi,ih->h", middle, solver.solve(force.T.copy()))
    at_holes, worst = middle @ of_pins, 0.0
    for h in range(len(field)):
        off = []
        for _ in range(50):
            more = np.linalg.solve(np.eye(len(off)) / SPRING - give[np.ix_(off, off)], pins_down[h, off])
            now = list(np.flatnonzero(pins_down[h] + give[:, off] @ more < 0))
            if now == off:
                break
            off = now
        else:
            raise ArithmeticError("the pins that bear do not settle")
        worst = max(worst, drop[h] + at_holes[h, off] @ more)
    return worst


def main():
    program, field = str(Path(sys.argv[1]).resolve()), holes()
    with tempfile.TemporaryDirectory() as folder:
        rows = ["hole,x,y"] + [f"H{i},{x:.9f},{y:.9f}" for i, (x, y) in enumerate(field)]
        Path(folder, "nominal.csv").write_text("\n".join(rows) + "\n")
        Path(folder, "job.ini").write_text(
            f"[plate]\noutline = rectangle\nwidth = {WIDTH}\nheight = {HEIGHT}\nthickness = {THICK}\n"
            f"[support]\npin_diameter = {PIN}\npin_clearance = {CLEAR}\npin_spacing = 420\n"
            f"[foot]\nforce = {FOOT / 1000} kN\nouter_diameter = {RING * 2 + 35}\ninner_diameter = {RING * 2 - 35}\nthrust = {THRUST / 1000} kN\n"
            f"[holddown]\ngap_limit = 0.5\n[holes]\nnominal = nominal.csv\ntube_diameter = 46\npitch = {PITCH}\n"
            f"[rules]\nhole_nominal = {HOLE}\n")
        done = subprocess.run([program, "pins", "job.ini", "--json"], cwd=folder, capture_output=True, text=True)
    assert done.returncode == 0, (done.returncode, done.stderr)
    found = json.loads(done.stdout)
    pins = np.array(found["pins"])
    metal = np.hypot(*(pins[:, None] - field[None]).transpose(2, 0, 1)).min() - HOLE / 2 - PIN / 2
    print(f"{len(pins)} pins, {len(field)} holes; least metal between them {metal:.3f} mm")
    good = metal >= CLEAR - 1e-6
    mesh = Mesh(36, 24)
    for name, part, star in (("solid", np.zeros((24, 36), bool), (1, NU)), ("drilled", drilled_cells(mesh, field), constants())):
        sag, said = worst_sag(mesh, pins, field, part, star), found["sag_" + name]
        print(f"{name}: sags {sag:.4f} mm here, {said:.4f} mm said ({100 * (said / sag - 1):+.1f} %); "
              f"{worst_sag(mesh, pins, field, part, star, 1.0):.4f} mm with all of the thrust in the hole's middle")
        good &= abs(said / sag - 1) <= 0.02
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
