"""Parts of the judgement that judge nothing by a number of their own, for holes_peer_judge.py."""
import math

import numpy as np
from scipy.spatial import cKDTree

VERDICTS = ["not judged", "conforms", "not proven", "does not conform"]


def worst(verdicts):
    return max(verdicts, key=VERDICTS.index, default="not judged")


def rigid(a, b):
    """Kabsch by SVD, with the guard against reflections. Returns R, t with R a + t near b."""
    ca, cb = a.mean(0), b.mean(0)
    v, _, wt = np.linalg.svd((b - cb).T @ (a - ca))
    r = v @ np.diag([1, np.sign(np.linalg.det(v @ wt))]) @ wt
    return r, cb - r @ ca


def two_points(a, b):
    turn = math.atan2(*(b[1] - b[0])[::-1]) - math.atan2(*(a[1] - a[0])[::-1])
    r = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    return r, b[0] - r @ a[0]


def parts(outer, states=None):
    """Each item judged once: proven in, proven outside its outermost limits, or neither."""
    states = states or ["conforms"] * len(outer)
    out = sum(o == "does not conform" for o in outer)
    open_ = sum(o == "not proven" or (o == "conforms" and s == "not proven") for o, s in zip(outer, states))
    judged = sum(o != "not judged" for o in outer)
    items = {"judged": judged, "proven_in": judged - out - open_, "proven_out": out, "not_proven": open_}
    return {"items": items, "proven_in": items["proven_in"], "proven_out": out}


class OneOf(list):
    """Any of these is right: their figures are the same but for rounding."""


def all_at(figures, extreme):
    """The keys of `figures` that lie at the extreme, in its order."""
    return OneOf(k for k, v in figures.items() if abs(v - extreme) <= 1e-9)


class Answer:
    pass


def match_nearest(j, rows, nominal, poses):
    tree = cKDTree(np.array([h[1:3] for h in nominal]))
    claims = {}
    for i, row in enumerate(rows):
        r, t = poses[row["face"]]
        distance, k = tree.query(r @ row["p"] + t)
        if distance <= j.pitch / 2:
            claims.setdefault((k, row["face"], row["round"]), []).append((distance, i))
    index_of, doubly = [None] * len(rows), set()
    for (k, _, _), list_ in claims.items():
        index_of[min(list_)[1]] = nominal[k][0]
        if len(list_) > 1:
            doubly.add(nominal[k][0])
    return index_of, doubly


def share_verdict(states, outer, allowed):
    inside = [s for s, o in zip(states, outer) if o != "does not conform"]
    if inside.count("does not conform") > allowed:
        return "does not conform"
    if len(inside) - inside.count("conforms") <= allowed:
        return "conforms"
    return "not proven"
