"""A general-purpose solver's answers about a bundle: scipy (HiGHS, SLSQP), nothing of plateproof.

Discs are (s, x, y, r). Cones are cut by tangent planes, more where the last answer broke one, so
that every linear programme bounds the answer from above and its line, measured exactly, from below.
"""
import math

import numpy as np
from scipy.optimize import linprog, minimize

START = [(math.cos(a), math.sin(a)) for a in np.linspace(0, 2 * math.pi, 9)[:-1]]


def line(discs, tolerance=2e-9, rounds=60):
    """(radius reached, radius bounded) of the largest straight cylinder."""
    s, x, y, r = (np.array(c, float) for c in zip(*discs))
    middle, half = (s.min() + s.max()) / 2, (s.max() - s.min()) / 2
    z, x0, y0, r0 = (s - middle) / half, x.mean(), y.mean(), r.min()
    x, y, r = x - x0, y - y0, r - r0
    rows, limits = [], []

    def cut(i, u):  # u.(a + b z - c) + rho <= r
        rows.append([u[0], u[1], u[0] * z[i], u[1] * z[i], 1])
        limits.append(r[i] + u[0] * x[i] + u[1] * y[i])

    for i in range(len(z)):
        for u in START:
            cut(i, u)
    best = -math.inf
    for _ in range(rounds):
        found = linprog([0, 0, 0, 0, -1], A_ub=np.array(rows), b_ub=np.array(limits),
                        bounds=[(None, None)] * 5, method="highs",
                        options={"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10})
        ax, ay, bx, by, rho = found.x
        ex, ey = ax + bx * z - x, ay + by * z - y
        size = np.hypot(ex, ey)
        best = max(best, float((r - size).min()))
        if rho - best < tolerance:
            break
        for i in np.nonzero(r - size < rho - tolerance / 4)[0]:
            if size[i] > 0:
                cut(i, (ex[i] / size[i], ey[i] / size[i]))
    return best + r0, rho + r0


def moved(disc, play, move):
    s, x, y, r = disc
    c, t = math.cos(move[2]), math.sin(move[2])
    dx, dy = x - play["x"], y - play["y"]
    return s, c * dx - t * dy + play["x"] + move[0], t * dx + c * dy + play["y"] + move[1], r


def placed(tubes, plays, rounds=80, tolerance=2e-8, asked=None):
    """Best worst radius of all placements. tubes: per tube a list of (plate, disc); plays: per plate
    {"x", "y", "radius", "angle"}. Turns are linearised again at every answer. (radius, bound, moves)
    asked: enough to know whether this radius is reached; by what turns cost at most, 0.01 mm are left."""
    plates = len(plays)
    at = [(0.0, 0.0, 0.0)] * plates
    stations = [d[0] for tube in tubes for _, d in tube]
    middle, half = (min(stations) + max(stations)) / 2, (max(stations) - min(stations)) / 2
    rim = [max([1.0] + [math.hypot(d[1] - plays[p]["x"], d[2] - plays[p]["y"]) for t in tubes for q, d in t if q == p])
           for p in range(plates)]
    width = 4 * len(tubes) + 3 * plates + 1
    cuts, best, best_moves = {}, -math.inf, at
    for _ in range(rounds):
        where = {}
        for k, tube in enumerate(tubes):
            for i, (p, d) in enumerate(tube):
                m = moved(d, plays[p], at[p])
                lever = (m[1] - plays[p]["x"] - at[p][0], m[2] - plays[p]["y"] - at[p][1])
                where[k, i] = (p, m, lever)
        rows, limits = [], []
        for (k, i), (p, m, lever) in where.items():
            z = (m[0] - middle) / half
            for u in START + cuts.get((k, i), []):
                row = np.zeros(width)
                row[4 * k:4 * k + 4] = u[0], u[1], u[0] * z, u[1] * z
                j = 4 * len(tubes) + 3 * p
                row[j:j + 3] = -u[0], -u[1], (u[0] * lever[1] - u[1] * lever[0]) / rim[p]
                row[-1] = 1
                rows.append(row)
                limits.append(m[3] + u[0] * m[1] + u[1] * m[2])
        bounds = [(None, None)] * width
        for p, play in enumerate(plays):
            j = 4 * len(tubes) + 3 * p
            for c in range(2):
                bounds[j + c] = (-play["radius"] - at[p][c], play["radius"] - at[p][c])
            bounds[j + 2] = tuple((e * play["angle"] - at[p][2]) * rim[p] for e in (-1, 1))
            for u in START + cuts.get(p, []) if play["radius"] else []:
                row = np.zeros(width)
                row[j:j + 2] = u
                rows.append(row)
                limits.append(play["radius"] - u[0] * at[p][0] - u[1] * at[p][1])
        found = linprog([0] * (width - 1) + [-1], A_ub=np.array(rows), b_ub=np.array(limits), bounds=bounds, method="highs")
        v = found.x
        at = [tuple(at[p][c] + v[4 * len(tubes) + 3 * p + c] / (rim[p] if c == 2 else 1) for c in range(3)) for p in range(plates)]
        for p, play in enumerate(plays):  # back into the play; the next programme is cut there
            away = math.hypot(*at[p][:2])
            if away > play["radius"] > 0:
                cuts.setdefault(p, []).append((at[p][0] / away, at[p][1] / away))
                at[p] = (at[p][0] * play["radius"] / away, at[p][1] * play["radius"] / away, at[p][2])
        worst = math.inf  # what the programme's own lines leave, measured exactly
        for k, tube in enumerate(tubes):
            a = v[4 * k:4 * k + 4]
            for i, (p, d) in enumerate(tube):
                d = moved(d, plays[p], at[p])
                z = (d[0] - middle) / half
                ex, ey = a[0] + a[2] * z - d[1], a[1] + a[3] * z - d[2]
                left = d[3] - math.hypot(ex, ey)
                worst = min(worst, left)
                if left < v[-1] - tolerance / 4:
                    cuts.setdefault((k, i), []).append((ex / math.hypot(ex, ey), ey / math.hypot(ex, ey)))
        if worst > best:
            best, best_moves = worst, at
        if v[-1] - best < tolerance or (asked is not None and (best >= asked or v[-1] < asked - 0.01)):
            break
    return best, v[-1], best_moves


def bent(discs, radius, stiffness):
    """Energy of a tube bent through its holes: SLSQP over deflections at the edges, the beam between
    them a natural cubic spline."""
    s, x, y, r = (np.array(c, float) for c in zip(*discs))
    n, length = len(s), s[-1] - s[0]
    h = np.diff(s) / length
    # natural spline: T m = Q' w, energy m' T m / 2 (de Boor, A Practical Guide to Splines, ch. XIV)
    q, t = np.zeros((n, n - 2)), np.zeros((n - 2, n - 2))
    for i in range(n - 2):
        q[i:i + 3, i] = 1 / h[i], -1 / h[i] - 1 / h[i + 1], 1 / h[i + 1]
        t[i, i] = (h[i] + h[i + 1]) / 3
        if i + 1 < n - 2:
            t[i, i + 1] = t[i + 1, i] = h[i + 1] / 6
    k = q @ np.linalg.solve(t, q.T)
    share = (s - s[0]) / length
    cx, cy = x - x[0] - share * (x[-1] - x[0]), y - y[0] - share * (y[-1] - y[0])
    play = r - radius
    scale = max(1.0, float(cx @ k @ cx + cy @ k @ cy))

    def energy(w):
        return (w[:n] @ k @ w[:n] + w[n:] @ k @ w[n:]) / 2 / scale

    def gradient(w):
        return np.concatenate([k @ w[:n], k @ w[n:]]) / scale

    def room(w):
        return play ** 2 - (w[:n] - cx) ** 2 - (w[n:] - cy) ** 2

    def room_gradient(w):
        return np.hstack([np.diag(-2 * (w[:n] - cx)), np.diag(-2 * (w[n:] - cy))])

    found = minimize(energy, np.concatenate([cx, cy]), jac=gradient, method="SLSQP",
                     constraints=[{"type": "ineq", "fun": room, "jac": room_gradient}],
                     options={"maxiter": 2000, "ftol": 1e-15})
    return found.fun * scale * stiffness / length ** 3 if room(found.x).min() > -1e-7 else None
