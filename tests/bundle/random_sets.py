#!/usr/bin/env python3
"""Random bundles against a general-purpose solver (scipy's HiGHS and SLSQP).

    random_sets.py PROGRAM COUNT [FIRST [wide]]

Every set: the margin of every tube as set out. Every third has play: the best worst margin of all
placements, and the margins that the moves reported give. Every other third has walls and friction:
the energy of one bent tube.
"wide": every set has play, turns of up to a degree and a half, and tubes that can't all pass.
"""
import math
import random
import sys
import tempfile
from pathlib import Path

import oracle
import sets

MARGIN, PLACED, ENERGY = 5e-9, 2e-6, 2e-5  # mm, mm, of the value


def draw(seed, wide):
    """A set, and its kind: 0 as set out, 1 with play, 2 to be bent."""
    if wide:
        g = random.Random(seed)
        return 1, sets.draw(seed, scatter=g.choice([0.02, 0.06, 0.12]), play=g.choice([0.4, 2.0]), play_deg=g.choice([0.05, 0.5, 1.5]),
                            turn_deg=g.choice([0.02, 0.3]), tubes=g.choice([4, 6, 9]), plates=g.choice([3, 5, 9]))
    kind = seed % 3
    play = dict(play=1.2, play_deg=0.15, tubes=4 + seed % 4, plates=3 + seed % 4) if kind == 1 else {}
    return kind, sets.draw(seed, scatter=0.03 if kind == 1 else 0.08, **play)


def check(program, seed, folder, wide):
    kind, b = draw(seed, wide)
    if kind == 2:
        b.tube_keys = {"wall": 2.11, "elastic_modulus": "195 GPa"}
        b.keys["friction"] = 0.3
    said = sets.run(program, b.write(folder))
    told = {t["tube"]: t for t in said["each"]}
    most = {"margin": 0.0, "placed": 0.0, "energy": 0.0}
    for tube in b.tubes:
        discs = [d for _, d in b.discs(tube)]
        if len(discs) < 4:
            assert told[tube]["margin_set_out"] is None and told[tube]["class"] == "not judged", (seed, tube)
            continue
        radius, bound = oracle.line(discs)
        low, high = 2 * radius - b.diameter - b.over, 2 * bound - b.diameter - b.over
        got = told[tube]["margin_set_out"]
        off = max(low - got, got - high)
        most["margin"] = max(most["margin"], off)
        assert off < MARGIN, f"set {seed} {tube}: margin {got}, between {low} and {high}"
        if kind == 2 and tube == "T1" and told[tube].get("energy") is not None:
            inertia = math.pi / 64 * (b.diameter ** 4 - (b.diameter - 2 * 2.11) ** 4)
            energy = oracle.bent(discs, (b.diameter + b.over) / 2, 195000 * inertia)
            if energy is not None and energy > 1:
                off = abs(told[tube]["energy"] / energy - 1)
                most["energy"] = max(most["energy"], off)
                assert off < ENERGY, f"set {seed} {tube}: energy {told[tube]['energy']}, not {energy}"
    if kind == 1:
        beyond = set(said["beyond_placement"])
        for tube in sorted(beyond)[:2]:  # alone it could not pass either
            _, bound, _ = oracle.placed([b.discs(tube)], [p.plays for p in b.plates])
            assert bound < (b.diameter + b.over) / 2, f"set {seed}: {tube} can pass"
        tubes = [b.discs(t) for t in b.tubes if t not in beyond and len(b.discs(t)) >= 4]
        assert bool(tubes) == ("placed" in said), f"set {seed}: {len(tubes)} tubes to place for"
        if not tubes:
            return most
        radius, bound, _ = oracle.placed(tubes, [p.plays for p in b.plates])
        low, high = 2 * radius - b.diameter - b.over, 2 * bound - b.diameter - b.over
        got = said["placed"]["worst_margin"]
        most["placed"] = max(low - got, got - high)
        assert most["placed"] < PLACED, f"set {seed}: placed {got}, between {low} and {high}"
        if said.get("fewest"):
            assert len(beyond) <= said["fewest"]["at_least"] <= said["fewest"]["fails"] <= len(b.tubes), seed
        moves = {p["name"]: (p["move"]["dx"], p["move"]["dy"], math.radians(p["move"]["angle_deg"])) for p in said["plates"]}
        for name, m in moves.items():
            plate = next(p for p in b.plates if p.name == name)
            assert math.hypot(*m[:2]) <= plate.play + 1e-9 and abs(m[2]) <= plate.plays["angle"] + 1e-12, (seed, name, m)
        for tube in b.tubes:
            if told[tube]["margin"] is None:
                continue
            radius, bound = oracle.line([oracle.moved(d, b.plates[p].plays, moves[b.plates[p].name]) for p, d in b.discs(tube)])
            assert abs(told[tube]["margin"] + b.diameter + b.over - radius - bound) < 1e-7, (seed, tube)
    return most


def main():
    program, count = sys.argv[1], int(sys.argv[2])
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 0
    wide = sys.argv[4:] == ["wide"]
    most = {}
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + count):
            for key, value in check(program, seed, Path(folder) / str(seed), wide).items():
                most[key] = max(most.get(key, 0.0), value)
    print(f"{count} sets agree; farthest outside the solver's bracket: " + ", ".join(f"{k} {v:.1e}" for k, v in most.items()))


main()
