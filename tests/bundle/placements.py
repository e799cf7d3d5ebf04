#!/usr/bin/env python3
"""What is claimed of a placement, each claim tried in another way.

    placements.py PROGRAM [POSES]

The best worst margin holds for the tubes outside the programme too; no random placement that moves less
reaches it; blunders that were planted are those found to fail; and where few tubes are enough to try
every choice of tubes left out, scipy's linear programmes agree with the fewest that fail.
"""
import itertools
import math
import random
import sys
import tempfile
from pathlib import Path

import oracle
import sets

GIVEN_AWAY = 0.001  # mm of margin that the least movement may cost


def draw(seed, tubes, plates, scatter=0.02):
    return sets.draw(seed, tubes=tubes, plates=plates, scatter=scatter, play=1.6, play_deg=0.15, windows=False)


def blunder(b, plate, tube, dx, dy):
    hole = b.plates[plate].holes[tube]
    b.plates[plate].holes[tube] = [(x + dx, y + dy, d) for x, y, d in hole]


def moves_of(said):
    return [(p["move"]["dx"], p["move"]["dy"], math.radians(p["move"]["angle_deg"])) for p in said["plates"]]


def radius(b, tube, moves):
    """What passes, as a bracket, with the plates moved."""
    return oracle.line([oracle.moved(d, b.plates[p].plays, moves[p]) for p, d in b.discs(tube)])


def many_tubes(program, folder):
    """More tubes than the programme begins with: whoever else is in the way counts as well."""
    for seed in (21, 22):
        b = draw(seed, 144, 6)
        said = sets.run(program, b.write(folder / f"many{seed}"))
        best, worst = said["placed"]["worst_margin"], min(t["margin"] for t in said["each"])
        assert best - GIVEN_AWAY - 1e-6 < worst < said["placed"]["bound"] + 1e-6, (seed, best, worst)
        assert said["placed"]["bound"] - best < 1e-6, seed
        for t in random.Random(seed).sample(said["each"], 8):
            low, high = radius(b, t["tube"], moves_of(said))
            assert low - 5e-9 <= (t["margin"] + b.diameter + b.over) / 2 <= high + 5e-9, (seed, t["tube"])


def moves_least(program, folder, poses):
    """None of the random placements that move less reaches what the reported one gives."""
    b = draw(31, 5, 5)
    said = sets.run(program, b.write(folder / "least"))
    assert said["judged_placement"] == "best", said["judged_placement"]
    rim = [max([1.0] + [math.hypot(x - p.shift[0], y - p.shift[1]) for h in p.holes.values() for x, y, _ in h]) for p in b.plates]
    floor = (said["placed"]["worst_margin"] - GIVEN_AWAY + b.diameter + b.over) / 2
    least = [v * (rim[k] if c == 2 else 1) for k, m in enumerate(moves_of(said)) for c, v in enumerate(m)]
    size, g = math.hypot(*least), random.Random(7)
    assert abs(size - said["placed"]["movement"]) < 1e-4 * size, (size, said["placed"]["movement"])
    in_doubt = sorted(said["each"], key=lambda t: t["margin"])
    tried = 0
    while tried < poses:
        near = 10 ** g.uniform(-2.5, 0)  # from next to the reported one to anywhere
        pose = [v + near * size * g.gauss(0, 0.4) if b.plates[i // 3].play else 0 for i, v in enumerate(least)]
        shorter = size * g.uniform(0.5, 1) ** near / math.hypot(*pose)
        pose = [min(1, shorter) * v for v in pose]
        moves = [(pose[3 * k], pose[3 * k + 1], pose[3 * k + 2] / rim[k]) for k in range(len(b.plates))]
        if math.hypot(*pose) > size * (1 - 1e-3):
            continue
        tried += 1
        assert any(radius(b, t["tube"], moves)[1] < floor for t in in_doubt), ("moves less and is as good", moves)


def planted(program, folder, seed, tubes, plates, blunders):
    b = draw(seed, tubes, plates)
    g = random.Random(seed)
    bad = g.sample(sorted(b.tubes), blunders)
    for tube in bad:
        size, way = g.uniform(0.6, 1.0), g.uniform(0, 2 * math.pi)
        blunder(b, g.randrange(1, plates - 1), tube, size * math.cos(way), size * math.sin(way))
    said = sets.run(program, b.write(folder / f"planted{seed}"))
    fewest = said["fewest"]
    assert fewest["fails"] <= blunders and fewest["at_least"] <= fewest["fails"], fewest
    assert sorted(fewest["tubes"]) == sorted(bad), (sorted(fewest["tubes"]), sorted(bad))
    for t in said["each"]:
        assert (t["margin"] < 0) == (t["tube"] in bad), (t["tube"], t["margin"])


def every_choice(program, folder):
    """Two holes that contradict each other in one plate, and a tube that no placement repairs."""
    b = draw(61, 12, 3)
    names = sorted(b.tubes)
    for tube, sign in ((names[1], 1), (names[4], -1)):  # both would pass, were the plate theirs alone
        blunder(b, 1, tube, sign * 0.75, 0)
    b.plates[1].holes[names[5]] = [(x, y, b.diameter + b.over - 0.04) for x, y, _ in b.plates[1].holes[names[5]]]
    said = sets.run(program, b.write(folder / "choice"))
    wanted = (b.diameter + b.over) / 2
    plays = [p.plays for p in b.plates]

    def all_pass(left_out):
        low, high, _ = oracle.placed([b.discs(t) for t in names if t not in left_out], plays, asked=wanted)
        assert low >= wanted or high < wanted, "the choice is too close to tell"
        return low >= wanted

    fewest = next(n for n in range(len(names)) if any(all_pass(c) for c in itertools.combinations(names, n)
                                                     if n == 0 or names[5] in c))
    assert not all_pass([t for t in names if t != names[5]]), "that one fails alone, so it is in every choice"
    assert said["beyond_placement"] == [names[5]], said["beyond_placement"]
    assert said["fewest"]["fails"] == fewest == 3 and names[5] in said["fewest"]["tubes"], (said["fewest"], fewest)
    assert said["fewest"]["at_least"] in (2, 3)


def main():
    program, poses = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 60
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        many_tubes(program, folder)
        moves_least(program, folder, poses)
        planted(program, folder, 41, 144, 6, 4)
        planted(program, folder, 43, 289, 8, 8)
        every_choice(program, folder)
    print(f"placements are what is said of them; {poses} that move less were tried")


main()
