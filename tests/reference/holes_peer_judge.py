"""The judgement of a hole job by numpy and scipy, for holes_peer.py."""
import math

import numpy as np
from scipy.spatial import cKDTree

from holes_peer_error import PoseError, by_fit, by_line, covariances, distance_error
from holes_peer_parts import Answer, OneOf, all_at, match_nearest, parts, rigid, share_verdict, two_points, worst

ALLOW = 1e-6
GUARD = 1.645
NEIGHBOUR = 1.25
FACES = ["entry", "exit"]


def upper(value, limit, guard, bias=0.0):
    if limit is None:
        return "not judged"
    if value <= limit - guard + ALLOW:
        return "conforms"
    return "does not conform" if value - bias > limit + guard + ALLOW else "not proven"


def lower(value, limit, guard):
    return "not judged" if limit is None else upper(-value, -limit, guard)


def combine(j, rows, index_of):
    """(hole or extra name, face) -> dict of the judged round."""
    groups = {}
    for i, row in enumerate(rows):
        if index_of[i] is None:
            continue
        groups.setdefault((index_of[i], row["face"]), []).append(row)
    bores = {}
    for key, group in groups.items():
        last = max(r["round"] for r in group)
        group = [r for r in group if r["round"] == last]
        d = [r["d"] for r in group]
        bores[key] = {"p": sum(r["p"] for r in group) / len(group), "dmin": min(d), "dmax": max(d),
                      "d": d, "ps": np.array([r["p"] for r in group])}
    return bores


def poses_of(j, bores, nominal, scale):
    identity = (np.eye(2), np.zeros(2))
    face = 0 if any(k[1] == 0 for k in bores) else 1
    place = {h[0]: np.array(h[1:3]) for h in nominal}

    def fit(face):
        names = [k[0] for k in bores if k[1] == face and k[0] in place and kind_of(nominal, k[0]) == "tube"]
        return rigid(np.array([bores[n, face]["p"] for n in names]), np.array([place[n] for n in names]))

    def two(face):
        return two_points(np.array([bores[n, face]["p"] for n in j.datum_holes]),
                          np.array([place[n] for n in j.datum_holes]))

    if j.align == "as-measured":
        first = identity
    elif j.align == "best-fit":
        first = fit(face)
    elif j.align == "two-holes":
        first = two(face)
    else:
        rows = np.array([r[1:] for r in j.datum_points]) * j.unit
        first = rigid(rows[:, 2:] * scale, rows[:, :2])
    exit_pose = first
    if face == 0 and any(k[1] == 1 for k in bores):
        exit_pose = {"same": lambda: first, "best-fit": lambda: fit(1), "two-holes": lambda: two(1)}[
            j.exit_align]()
    return [first, exit_pose], face


KIND = {}


def kind_of(nominal, name):
    return KIND.get(name)


class Judging:
    """One job on its way to the answer `a`; the steps run in the order of judge()."""

    def __init__(self, j):
        self.j, self.a = j, Answer()

    def read_rows(self):
        """As plateproof reads them: 12 digits, mm, 20 C, seen from the entry face."""
        j = self.j
        nominal = j.nominal
        KIND.clear()
        KIND.update({h[0]: h[3] for h in nominal})
        nominal = [[h[0], float(f"{h[1] / j.unit:.12g}") * j.unit, float(f"{h[2] / j.unit:.12g}") * j.unit, *h[3:]]
                   for h in nominal]
        place = {h[0]: np.array(h[1:3]) for h in nominal}
        scale = 1.0 if not j.warm or j.compensated else 1 - j.expansion * (j.temperature - 20)
        rows = []
        for name, x, y, d, face, turn, disposition in j.rows_measured:
            p = np.array([x, y]) * j.unit * scale
            if face == 1 and j.exit_view == "turned-about-x":
                p[1] = -p[1]
            if face == 1 and j.exit_view == "turned-about-y":
                p[0] = -p[0]
            rows.append({"name": name, "p": p, "d": d * j.unit * scale, "face": face, "round": turn,
                         "plugged": disposition == "plugged"})
        self.nominal, self.place, self.scale, self.rows = nominal, place, scale, rows

    def match(self):
        j, nominal, rows, scale = self.j, self.nominal, self.rows, self.scale
        doubly = set()
        if j.named:
            index_of = [r["name"] for r in rows]
        else:
            start = [(np.eye(2), np.zeros(2))] * 2
            if j.align == "datum-points":
                start, _ = poses_of(j, {("", 0): None}, nominal, scale)
            index_of, doubly = match_nearest(j, rows, nominal, start)
            if j.align == "best-fit":
                poses, _ = poses_of(j, combine(j, rows, index_of), nominal, scale)
                index_of, doubly = match_nearest(j, rows, nominal, poses)
            index_of = [n if n is not None else f"row {i + 1}" for i, n in enumerate(index_of)]
        self.index_of, self.doubly = index_of, doubly

    def lay_on_pattern(self):
        j, nominal, place = self.j, self.nominal, self.place
        bores = combine(j, self.rows, self.index_of)
        poses, fitted = poses_of(j, bores, nominal, self.scale)
        for (name, face), b in bores.items():
            r, t = poses[face]
            b["q"] = r @ b["p"] + t
            if name in place:
                b["off"] = b["q"] - place[name]
                b["position"] = b["placed"] = 2 * math.hypot(*b["off"])
                b["off_judged"] = b["off"]
        if j.pattern_limit is not None:  # position_limit then holds within the pattern laid on itself
            names = [n for n, f in bores if f == fitted and KIND.get(n) == "tube"]
            r, t = rigid(np.array([bores[n, fitted]["q"] for n in names]), np.array([place[n] for n in names]))
            for (name, face), b in bores.items():
                if name in place:
                    b["off_judged"] = r @ b["q"] + t - place[name]
                    b["position"] = 2 * math.hypot(*b["off_judged"])
        self.bores, self.poses, self.fitted = bores, poses, fitted

    def take_census(self):
        a, nominal, place, index_of = self.a, self.nominal, self.place, self.index_of
        a.extra = list(dict.fromkeys(n for n in index_of if n not in place))
        a.doubly = [h[0] for h in nominal if h[0] in self.doubly]
        plugged = {n for n, r in zip(index_of, self.rows) if r["plugged"] and n in place}
        a.plugged = [h[0] for h in nominal if h[0] in plugged]
        tubes = [h[0] for h in nominal if h[3] == "tube"]
        read = {n for n, _ in self.bores}
        a.nominal, a.measured = len(tubes), sum(n in read for n in tubes)
        a.unmeasured = [n for n in tubes if n not in read]
        self.plugged, self.tubes, self.read = plugged, tubes, read

    def state_alignment(self):
        j, a, place, bores, fitted, poses = self.j, self.a, self.place, self.bores, self.fitted, self.poses
        every = j.coverage == "every-hole"
        r0, t0 = poses[0]
        fits = [b["off"] for (n, f), b in bores.items() if f == fitted and KIND.get(n) == "tube"]
        a.alignment = {"kind": j.align, "angle_deg": math.degrees(math.atan2(r0[1, 0], r0[0, 0])),
                       "dx": t0[0], "dy": t0[1], "rms": math.sqrt(np.mean(np.sum(np.square(fits), axis=1)))}
        origin = np.zeros(2)
        if j.align == "two-holes":
            origin = place[j.datum_holes[0]]
        if j.align == "datum-points":
            origin = np.mean([r[1:3] for r in j.datum_points], axis=0) * j.unit
        g = GUARD if j.decision == "guarded" else 0.0
        up, ud, ul = ((j.u.get(k) or 0.0) / 2 for k in ("position", "diameter", "ligament"))
        self.every, self.origin, self.g, self.up, self.ud, self.ul = every, origin, g, up, ud, ul
        self.counted = [n for n in self.tubes if n in self.read and n not in self.plugged]
        self.index = {h[0]: i for i, h in enumerate(self.nominal)}

    def variance(self, place):
        """Of one coordinate of a reading, without the plate's scale."""
        r = math.hypot(*(place - self.origin))
        return self.up ** 2 + ((self.j.u.get("per_metre") or 0) * r / 2000) ** 2

    def pose_error(self, how, face):
        j, place = self.j, self.place
        if how == "as-measured":
            return PoseError(self.origin)
        if how == "two-holes":
            first, second = (place[n] for n in j.datum_holes)
            return by_line([(n, face) for n in j.datum_holes], first, second,
                           [self.variance(first), self.variance(second)])
        if how == "datum-points":
            points = {("point", i): np.array(r[1:3]) * j.unit for i, r in enumerate(j.datum_points)}
        else:
            points = {k: place[k[0]] for k in self.bores
                      if k[1] == face and KIND.get(k[0]) == "tube"}
        return by_fit(points, list(points.values()), [self.variance(q) for q in points.values()])

    def covariances(self, pose, keys, scaled=True):
        places = np.array([self.place[k[0]] if k[0] in self.place else self.bores[k]["q"] for k in keys])
        found = covariances(pose, keys, places, [self.variance(p) for p in places],
                            self.scale_variance if scaled else 0.0)
        return dict(zip(keys, found))

    def find_covariances(self):
        j = self.j
        kelvin = (j.u.get("temperature") or 0) / 2
        stated = j.u.get("expansion")
        if stated is None:  # a coefficient that nobody gave is known to a tenth
            stated = 0.0 if j.expansion_given else 0.1
        relative = stated * (j.temperature - 20) / 2 if j.warm else 0.0
        self.scale_variance = (j.expansion * kelvin) ** 2 + (j.expansion * relative) ** 2
        first = self.pose_error(j.align, self.fitted)
        own = j.exit_align != "same" and self.fitted == 0 and any(f == 1 for _, f in self.bores)
        poses = [first, self.pose_error(j.exit_align, 1) if own else first]
        self.exit_own = own
        alone = [{}, {}]
        for f in (0, 1):
            keys = [k for k in self.bores if k[1] == f]
            if not keys:
                continue
            placed = self.covariances(poses[f], keys)
            alone[f] = self.covariances(poses[f], keys, scaled=False)
            for k in keys:
                self.bores[k].update(C=placed[k], C_placed=placed[k], C_alone=alone[f][k])
        if j.pattern_limit is not None:
            self.find_pattern_covariances(poses)
        about = np.array([first.about, first.about + (1.0, 0.0)])
        here, beside = first.moves(about)
        shift = np.einsum("k,kab,kcb->ac", first.variances, here, here)
        turn = np.sum(first.variances[:, None] * (beside - here)[:, 1] ** 2)
        self.a.alignment["scale_u"] = math.sqrt(self.scale_variance)
        if "position" in j.u:
            self.a.alignment.update(u_dx=math.sqrt(shift[0, 0]), u_dy=math.sqrt(shift[1, 1]),
                                    u_angle_deg=math.degrees(math.sqrt(turn)))

    def find_pattern_covariances(self, poses):
        """Within the pattern laid on itself; an exit with an alignment of its own brings that one's errors too."""
        keys = list(self.bores)
        within = self.covariances(self.pose_error("best-fit", self.fitted), keys)
        exits = [k for k in keys if k[1] == 1] if self.exit_own else []
        for f in (0, 1):
            same_holes = [(n, f) for n, _ in exits]
            if exits:
                known = self.covariances(poses[f], same_holes, scaled=False)
                for k, entry in zip(exits, same_holes):
                    within[k] = within[k] + known[entry]
        for k in keys:
            self.bores[k]["C"] = within[k]

    def faces_of(self, name):
        return [f for f in (0, 1) if (name, f) in self.bores]

    def position_of(self, name, least, limit_of_all, key="position"):
        j, bores, plugged, g, ud = self.j, self.bores, self.plugged, self.g, self.ud
        result = []
        for f in self.faces_of(name):
            b = bores[name, f]
            placed = key == "placed"
            limit = limit_of_all
            u, bias = distance_error(b["C_placed" if placed else "C"], b["off" if placed else "off_judged"], 2)
            if not placed:
                b["u"], b["bias"] = (u, bias) if "position" in j.u else (None, None)
            if limit is not None and j.material == "maximum":
                u = math.sqrt(u * u + ud * ud)
                if least is not None:
                    limit += max(0.0, b["dmin"] - least)
            verdict = upper(b[key], limit, g * u, 2 * bias if g else 0.0)
            if key == "position":
                b["limit"], b["verdict"] = limit, "not judged" if name in plugged else verdict
            result.append((b[key], f, verdict))
        return result

    def pattern_of(self, name, least):
        j = self.j
        no_datum = j.align == "best-fit"
        return self.position_of(name, least, None if no_datum else j.pattern_limit, "placed")

    def open_if_missing(self, verdict, limited, missing):
        return worst([verdict, "not proven"]) if limited and missing and self.every else verdict

    def contradicts(self, name):
        """Do repeats of the hole lie farther apart than their uncertainty explains, one perhaps outside?"""
        j, limit = self.j, self.j.position_limit
        if limit is None:
            return False
        for f in self.faces_of(name):
            b = self.bores[name, f]
            count = len(b["ps"])
            far = math.hypot(*np.ptp(b["ps"], axis=0)) * (count - 1) / count
            r = math.hypot(*(b["q"] - self.origin))
            u = math.sqrt(self.up ** 2 + ((j.u.get("per_metre") or 0) * r / 2000) ** 2 + r * r * self.scale_variance)
            known = "position" in j.u and u > 0
            bonus = max(0.0, b["dmin"] - (j.size - j.under)) if j.material == "maximum" else 0.0
            if far > (5 * u if known else limit / 4) + ALLOW and b["position"] + 2 * far > limit + bonus + ALLOW:
                return True
        return False

    def held_back(self, verdict):
        """Repeats that contradict each other leave a verdict at best not proven."""
        return worst([verdict, "not proven"]) if verdict != "not judged" and self.doubtful else verdict

    def judge_position(self):
        j, a, counted = self.j, self.a, self.counted
        per_hole = {n: self.position_of(n, j.size - j.under, j.position_limit) for n in counted}
        verdicts = {n: worst(v for _, _, v in per_hole[n]) for n in counted}
        self.doubtful = any(self.contradicts(n) for n in counted)
        tops = {n: max(per_hole[n], key=lambda t: (t[0], -t[1])) for n in counted}
        a.position = {"limit": j.position_limit, "mean": np.mean([t[0] for t in tops.values()]),
                      "out": sum(v == "does not conform" for v in verdicts.values()),
                      "not_proven": sum(v == "not proven" for v in verdicts.values()),
                      **parts(list(verdicts.values())),
                      "verdict": self.held_back(self.open_if_missing(
                          worst(verdicts.values()), j.position_limit is not None, a.unmeasured))}
        top = max(counted, key=lambda n: tops[n][0])
        ends = all_at({(n, f): p for n, found in per_hole.items() for p, f, _ in found}, tops[top][0])
        a.position.update(largest=tops[top][0], largest_hole=OneOf(n for n, _ in ends),
                          largest_face=OneOf(FACES[f] for _, f in ends))

    def judge_pattern(self):
        j, a, counted = self.j, self.a, self.counted
        a.pattern = None
        if j.pattern_limit is not None:
            found = [t for n in counted for t in self.pattern_of(n, j.size - j.under)]
            a.pattern = {"limit": j.pattern_limit, "largest": max(t[0] for t in found),
                         "verdict": self.held_back(self.open_if_missing(
                             worst(t[2] for t in found), j.align != "best-fit", a.unmeasured))}

    def judge_diameter(self):
        j, a, bores, counted, every, g, ud = self.j, self.a, self.bores, self.counted, self.every, self.g, self.ud
        lo, hi, out = j.size - j.under, j.size + j.over, j.size + j.over_limit
        counts = dict.fromkeys(["undersize", "in_tolerance", "in_remainder", "oversize"], 0)
        states, outer, not_proven, means = [], [], 0, []
        for n in counted:
            bs = [bores[n, f] for f in self.faces_of(n)]
            dmin, dmax = min(b["dmin"] for b in bs), max(b["dmax"] for b in bs)
            all_d = [d for b in bs for d in b["d"]]
            means.append(sum(all_d) / len(all_d))
            key = ("undersize" if dmin < lo - ALLOW else "oversize" if dmax > out + ALLOW
                   else "in_remainder" if dmax > hi + ALLOW else "in_tolerance")
            counts[key] += 1
            three = [lower(dmin, lo, g * ud), upper(dmax, hi, g * ud), upper(dmax, out, g * ud)]
            not_proven += "not proven" in three
            outer.append(worst([three[0], three[2]]))
            states.append(three[1])
        n_all = len(counted) + (len(a.unmeasured) if every else 0)
        allowed = math.floor(j.share * n_all + 1e-9)
        share = share_verdict(states, outer, allowed)
        a.diameter = {"nominal": j.size, "lower": lo, "upper": hi, "upper_limit": out,
                      "smallest": min(bores[n, f]["dmin"] for n in counted for f in self.faces_of(n)),
                      "largest": max(bores[n, f]["dmax"] for n in counted for f in self.faces_of(n)),
                      "mean": np.mean(means), **counts, "remainder_allowed": allowed,
                      "not_proven": not_proven, **parts(outer, states),
                      "verdict": self.open_if_missing(worst(outer + [share]), True, a.unmeasured)}

    def ligament_values(self):
        """All pairs of neighbours, and {(hole, hole, face): (ligament, u)} of those that are known."""
        j, index, tubes, bores, plugged = self.j, self.index, self.tubes, self.bores, self.plugged
        points = np.array([self.place[n] for n in tubes])
        pairs = cKDTree(points).query_pairs(NEIGHBOUR * j.pitch)
        pairs = sorted(tuple(sorted((tubes[p], tubes[q]), key=index.get)) for p, q in pairs)
        pairs = [p for p in pairs if not (p[0] in plugged and p[1] in plugged)]
        pairs.sort(key=lambda p: (index[p[0]], index[p[1]]))
        direct = {}
        for x, y, value, f in j.direct:
            key = (*sorted((x, y), key=index.get), f)
            direct[key] = min(direct.get(key, math.inf), value * j.unit * self.scale)
        values = {}
        for p, q in pairs:
            for f in (0, 1):
                if (p, q, f) in direct:
                    values[p, q, f] = (direct[p, q, f], self.ul)
                elif (p, f) in bores and (q, f) in bores:
                    b, c = bores[p, f], bores[q, f]
                    values[p, q, f] = (math.hypot(*(b["p"] - c["p"])) - (b["dmax"] + c["dmax"]) / 2,
                                       math.sqrt(2 * self.up ** 2 + self.ud ** 2 / 2))
        return pairs, values

    def judge_ligaments(self):
        j, a, every, g = self.j, self.a, self.every, self.g
        pairs, values = self.ligament_values()
        standard, minimum = j.standard, j.minimum
        counts = dict.fromkeys(["standard", "in_remainder", "thin"], 0)
        states, outer, not_proven, worst_values, smallest, taken = [], [], 0, [], None, {}
        measured_pairs = 0
        for p, q in pairs:
            fs = [f for f in (0, 1) if (p, q, f) in values]
            if not fs:
                continue
            measured_pairs += 1
            if j.ligament_face == "exit" and 1 in fs:
                fs = [1]
            f = min(fs, key=lambda f: (values[p, q, f][0], f))
            v = values[p, q, f][0]
            taken.update({(p, q, k): values[p, q, k][0] for k in fs})
            worst_values.append(v)
            if smallest is None or v < smallest[0]:
                smallest = (v, p, q, f)
            if standard is None:
                continue
            against_minimum = [lower(values[p, q, k][0], minimum, g * values[p, q, k][1]) for k in fs]
            against_standard = [lower(values[p, q, k][0], standard, g * values[p, q, k][1]) for k in fs]
            counts["standard" if v >= standard - ALLOW else "in_remainder" if v >= minimum - ALLOW
                   else "thin"] += 1
            outer.append(worst(against_minimum))
            states.append(worst(against_standard))
            not_proven += "not proven" in (outer[-1], states[-1])
        missing = len(pairs) - measured_pairs
        allowed = math.floor(j.share * (measured_pairs + (missing if every else 0)) + 1e-9)
        limited = standard is not None
        share = share_verdict(states, outer, allowed) if states else "not judged"
        a.ligament = {"pairs": measured_pairs, "pairs_unmeasured": missing, "nominal": j.pitch - j.size,
                      "standard_limit": standard, "minimum_limit": minimum, **counts,
                      "remainder_allowed": allowed if limited else 0, "not_proven": not_proven,
                      **parts(outer, states),
                      "verdict": self.open_if_missing(worst(outer + [share]), limited, missing)}
        if smallest:
            ends = all_at(taken, smallest[0])
            a.ligament.update(smallest=smallest[0], smallest_pair=OneOf([p, q] for p, q, _ in ends),
                              smallest_face=OneOf(FACES[f] for *_, f in ends), mean=np.mean(worst_values))
        self.values = values

    def judge_edge(self):
        j, a, bores, counted, g, ud = self.j, self.a, self.bores, self.counted, self.g, self.ud
        centre = np.array(j.plate_centre)
        edges, edge_verdicts = {}, {}
        for n in counted:
            for f in self.faces_of(n):
                b = bores[n, f]
                d = b["q"] - centre
                left = (j.diameter / 2 - math.hypot(*d) if j.disc
                        else min(j.width / 2 - abs(d[0]), j.height / 2 - abs(d[1])))
                value = left - b["dmax"] / 2
                nearest = (d / math.hypot(*d) if j.disc and d.any() else np.array([1.0, 0.0])
                           if j.width / 2 - abs(d[0]) <= j.height / 2 - abs(d[1]) else np.array([0.0, 1.0]))
                u = math.sqrt(nearest @ b["C_placed"] @ nearest + ud * ud / 4)
                edges[n] = min(edges.get(n, math.inf), value)
                edge_verdicts[n] = worst([edge_verdicts.get(n, "not judged"), lower(value, j.edge_limit, g * u)])
        thin = min(edges, key=edges.get)
        a.edge = {"limit": j.edge_limit, "smallest": edges[thin],
                  "smallest_hole": all_at(edges, edges[thin]),
                  "verdict": self.open_if_missing(worst(edge_verdicts.values()), j.edge_limit is not None,
                                                  a.unmeasured)}

    def judge_drift(self):
        j, a, bores, counted, g, up = self.j, self.a, self.bores, self.counted, self.g, self.up
        drifts = {n: math.hypot(*(bores[n, 1]["q"] - bores[n, 0]["q"])) for n in counted
                  if (n, 0) in bores and (n, 1) in bores}
        a.drift = None
        if drifts:
            vs = []
            for n, v in drifts.items():
                p, q = bores[n, 0], bores[n, 1]
                c = p["C_alone"] + q["C_alone"] if self.exit_own else 2 * up ** 2 * np.eye(2)
                u, bias = distance_error(c, q["q"] - p["q"], 1)
                vs.append(upper(v, j.drift_limit, g * u, 2 * bias if g else 0.0))
            far = max(drifts, key=drifts.get)
            a.drift = {"limit": j.drift_limit, "largest": drifts[far], "largest_hole": all_at(drifts, drifts[far]),
                       "out": vs.count("does not conform"), "not_proven": vs.count("not proven"), **parts(vs),
                       "verdict": self.open_if_missing(worst(vs), j.drift_limit is not None, a.unmeasured)}

    def judge_others(self):
        j, a, bores, plugged, g, up, ud = self.j, self.a, self.bores, self.plugged, self.g, self.up, self.ud
        a.others = []
        for name, _, _, kind, size, under, over in self.nominal:
            if kind != "other":
                continue
            sized = under is not None or over is not None
            vs, spot, ds = [], None, []
            for f in self.faces_of(name):
                b = bores[name, f]
                spot = max(spot or 0, b["position"])
                ds += b["d"]
                if name in plugged:
                    continue
                vs.append(lower(b["dmin"], size - under if under is not None else None, g * ud))
                vs.append(upper(b["dmax"], size + over if over is not None else None, g * ud))
                around = [math.hypot(*(b["q"] - c["q"])) - (b["dmax"] + c["dmax"]) / 2
                          for (n, k), c in bores.items() if k == f and KIND.get(n) == "tube"]
                if around:
                    vs.append(lower(min(around), j.other_limit, g * math.sqrt(2 * up * up + ud * ud / 2)))
            least = size - under if under is not None else None
            in_place = self.position_of(name, least, j.position_limit) + self.pattern_of(name, least)
            if name not in plugged:
                vs += [v for _, _, v in in_place]
            place_limited = j.pattern_limit is not None and j.align != "best-fit"
            limited = j.position_limit is not None or sized or place_limited or j.other_limit is not None
            if not self.faces_of(name) and self.every and limited:
                vs.append("not proven")
            a.others.append({"hole": name, "position": spot, "diameter": np.mean(ds) if ds else None,
                             "verdict": worst(vs)})

    def judge_misdrilled(self):
        j, a, index, bores, plugged = self.j, self.a, self.index, self.bores, self.plugged
        half = 0.5 * min(j.pitch - j.size, j.minimum if j.minimum is not None else math.inf)
        rank = lambda n: index.get(n, len(index) + (a.extra.index(n) if n in a.extra else 0))
        found = []
        for f in (0, 1):
            names = sorted((n for n, k in bores if k == f), key=rank)
            if len(names) < 2:
                continue
            q = np.array([bores[n, f]["q"] for n in names])
            radius = np.array([bores[n, f]["dmax"] for n in names]) / 2
            apart = q[:, None, :] - q[None, :, :]
            metal = np.hypot(apart[..., 0], apart[..., 1]) - radius[:, None] - radius[None, :]
            close = (metal < half - ALLOW) | (metal < -ALLOW)
            for i, k in np.argwhere(np.triu(close, 1)):
                if not (names[i] in plugged and names[k] in plugged):
                    found.append((rank(names[i]), rank(names[k]), f, [names[i], names[k], FACES[f]]))
        a.misdrilled = [pair for *_, pair in sorted(found)]

    def doubt(self):
        """Nobody measures what was drawn to the last digit, as read: position is then at best not proven."""
        j, a, place = self.j, self.a, self.place
        if not j.grid or j.position_limit is None and not a.pattern:
            return
        offs = [np.abs(np.abs(r["p"]) - np.abs(place[n])) if r["face"] else np.abs(r["p"] - place[n])
                for n, r in zip(self.index_of, self.rows) if n in place]
        if len(offs) < 10:
            return
        fine = j.position_limit is not None and 0.01 <= 0.1 * j.position_limit
        same = sum(bool(np.all(off <= (0.005 if fine else 0.0) + 1e-9)) for off in offs)
        if same == len(offs) or fine and same > 0.2 * len(offs):
            for judged in (a.position, a.pattern):
                if judged and judged["verdict"] == "conforms":
                    judged["verdict"] = "not proven"
            a.doubted = True

    def sum_up(self):
        j, a = self.j, self.a
        wrong = a.extra or a.doubly or a.misdrilled
        a.verdict = worst([a.position["verdict"], a.diameter["verdict"], a.ligament["verdict"],
                           a.edge["verdict"], a.pattern["verdict"] if a.pattern else "not judged",
                           a.drift["verdict"] if a.drift else "not judged",
                           *(o["verdict"] for o in a.others), *(["does not conform"] if wrong else [])])
        if j.tube_holes not in (None, a.nominal) and a.verdict == "conforms":
            a.verdict = "not proven"
        for name in self.plugged.intersection(self.tubes):  # for their rows in holes.csv
            self.position_of(name, j.size - j.under, j.position_limit)


def judge(j):
    steps = Judging(j)
    steps.read_rows()
    steps.match()
    steps.lay_on_pattern()
    steps.take_census()
    steps.state_alignment()
    steps.find_covariances()
    steps.judge_position()
    steps.judge_pattern()
    steps.judge_diameter()
    steps.judge_ligaments()
    steps.judge_edge()
    steps.judge_drift()
    steps.judge_others()
    steps.judge_misdrilled()
    steps.doubt()
    steps.sum_up()
    steps.a.bores, steps.a.place, steps.a.values = steps.bores, steps.place, steps.values
    return steps.a
