"""First-order errors of aligned centres, for holes_peer_judge.py.

Every reading's error moves an aligned centre at p by a 2 x 2 matrix; covariances are sums over all readings
(docs/theory/holes.md gives closed forms of these sums, which are not used here).
"""
import math

import numpy as np


def turned(v):
    """By a quarter, of one vector or of many."""
    return np.stack([-v[..., 1], v[..., 0]], axis=-1)


def outer(a, b):
    return a[..., :, None] * b[..., None, :]


class PoseError:
    """Where an alignment turns about, the readings it was found by, their variances of one coordinate, and
    `moves(p)`: for each p and reading the matrix, [points, readings, 2, 2]."""

    def __init__(self, about, keys=(), variances=(), moves=None):
        self.about, self.keys, self.variances = about, list(keys), np.array(variances, dtype=float)
        self.moves = moves or (lambda p: np.zeros((len(p), 0, 2, 2)))


def by_line(keys, first, second, variances):
    length = math.hypot(*(second - first))
    across = turned(second - first) / length

    def moves(p):
        by_second = outer(turned(p - first), np.broadcast_to(across, p.shape)) / length
        return np.stack([np.eye(2) - by_second, by_second], axis=1)

    return PoseError(first, keys, variances, moves)


def by_fit(keys, places, variances):
    places = np.array(places)
    middle = places.sum(axis=0) / len(places)
    arms = places - middle
    moment = np.sum(arms * arms)

    def moves(p):
        return np.eye(2) / len(places) + outer(turned(p - middle)[:, None, :], turned(arms)[None, :, :]) / moment

    return PoseError(middle, keys, variances, moves)


def covariances(pose, keys, places, own_variances, scale_variance):
    """Of the centres read as `keys`; a reading that helped to find the pose moves its own centre less."""
    matrix = pose.moves(places)
    own = np.array(own_variances, dtype=float)
    index = {key: k for k, key in enumerate(pose.keys)}
    for i, key in enumerate(keys):
        if key in index:
            matrix[i, index[key]] -= np.eye(2)
            own[i] = 0.0
    weighted = matrix * pose.variances[None, :, None, None]
    c = own[:, None, None] * np.eye(2) + np.einsum("mkab,mkcb->mac", weighted, matrix)
    arm = places - pose.about
    return c + scale_variance * outer(arm, arm)


def distance_error(c, off, factor):
    """Standard uncertainty and first-order bias of factor |off|."""
    length = math.hypot(off[0], off[1])
    middle, half = (c[0, 0] + c[1, 1]) / 2, math.hypot((c[0, 0] - c[1, 1]) / 2, (c[0, 1] + c[1, 0]) / 2)
    u = factor * math.sqrt(max(0.0, middle + half))  # the larger eigenvalue
    if length == 0:
        return u, 0.0
    x, y = -off[1], off[0]
    across = (x * (c[0, 0] * x + c[0, 1] * y) + y * (c[1, 0] * x + c[1, 1] * y)) / (length * length)
    return u, factor * min(length / 2, across / (2 * length))
