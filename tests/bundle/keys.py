#!/usr/bin/env python3
"""What each key of a set file does to the answer, tube by tube.

    keys.py PROGRAM
"""
import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import sets

WITHIN = 1e-9


def answer(program, file):
    done = subprocess.run([program, "bundle", "--json", file], capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr
    return done.returncode, json.loads(done.stdout)


def told(program, file):
    return {t["tube"]: t for t in answer(program, file)[1]["bundle"]["each"]}


def edit(path, *pairs):
    text = path.read_text()
    for old, new in pairs:
        assert old in text, (path.name, old)
        text = text.replace(old, new, 1)
    path.write_text(text)


def same_margins(a, b, most=WITHIN):
    assert a.keys() == b.keys()
    for tube in a:
        x, y = a[tube]["margin"], b[tube]["margin"]
        assert x is None and y is None or abs(x - y) <= most, (tube, x, y)


def good(**more):
    return sets.draw(6, tubes=9, plates=5, scatter=0.03, shift=0.02, turn_deg=0.002, windows=False, **more)


def clearance_minimum(program, folder):
    b = good()
    file = b.write(folder / "free")
    margins = sorted(t["margin"] for t in told(program, file).values())
    assert margins[0] > 0 and answer(program, file)[0] == 0
    for limit, status in ((margins[4], 1), (margins[0], 0), (margins[0] + 2e-5, 1)):
        b.keys["clearance_minimum"] = repr(limit)
        file = b.write(folder / "kept")
        got, said = answer(program, file)
        assert got == status, (limit, got)
        for tube in said["bundle"]["each"]:
            passes = tube["margin"] >= limit - 1e-6
            assert (tube["class"] == "passes straight") == passes and (tube["verdict"] == "conforms") == passes, tube


def station_of(program, folder):
    before = told(program, good().write(folder / "front"))
    for word, share in (("middle", 0.5), ("rear", 1)):
        b = good()
        file = b.write(folder / word)
        text = file.read_text().replace("station_of = front", f"station_of = {word}")
        for p in b.plates:
            text = text.replace(f"station = {p.station!r}\n", f"station = {p.station + share * p.thickness!r}\n")
        file.write_text(text)
        same_margins(before, told(program, file))
        file.write_text(text.replace(f"station_of = {word}", "station_of = front", 3))
        after = told(program, file)
        assert any(abs(before[t]["margin"] - after[t]["margin"]) > 1e-6 for t in before), "the stations tell"



def entry_looks(program, folder):
    """A plate drilled from the side that looks to the rear, told in the frame of its front."""
    b = good()
    for plate in b.plates:  # holes that lean, so that the faces tell
        plate.holes = {n: [h[0], (h[1][0] + 0.06, h[1][1], h[1][2])] for n, h in plate.holes.items()}
    before = told(program, b.write(folder / "as-is"))
    file = b.write(folder / "swapped")
    rows = [line.split(",") for line in (folder / "swapped/P2.csv").read_text().splitlines()]
    (folder / "swapped/P2.csv").write_text("\n".join(
        ",".join(r[:4] + [{"entry": "exit", "exit": "entry"}.get(r[4], r[4])]) for r in rows) + "\n")
    other = told(program, file)
    assert any(abs(before[t]["margin"] - other[t]["margin"]) > 1e-6 for t in before), "the faces tell"
    edit(file, ("[plate P2]\n", "[plate P2]\nentry_looks = rear\n"))
    same_margins(before, told(program, file))


def views(program, folder):
    """A plate measured from behind, turned about its own axis x or y, and shifted."""
    before = told(program, good().write(folder / "as-is"))
    for view, fx, fy in (("turned-about-x", 1, -1), ("turned-about-y", -1, 1)):
        b = good()
        file = b.write(folder / view)
        for name in ("P2.csv", "P2_nominal.csv"):
            path = folder / view / name
            head, *rows = [line.split(",") for line in path.read_text().splitlines()]
            turned = [[r[0], repr(fx * float(r[1])), repr(fy * float(r[2])), *r[3:4],
                       *({"entry": "exit", "exit": "entry"}[f] for f in r[4:])] for r in rows]
            path.write_text("\n".join(",".join(r) for r in [head, *turned]) + "\n")
        edit(file, ("[plate P2]\n", f"[plate P2]\nview = {view}\n"))
        same_margins(before, told(program, file))


def turn_and_shift(program, folder):
    before = told(program, good().write(folder / "as-is"))
    b = good()
    file = b.write(folder / "turned")
    angle = math.radians(30)
    for name in ("P3.csv", "P3_nominal.csv"):
        path = folder / "turned" / name
        head, *rows = [line.split(",") for line in path.read_text().splitlines()]
        rows = [[r[0], repr(math.cos(angle) * float(r[1]) + math.sin(angle) * float(r[2])),
                 repr(-math.sin(angle) * float(r[1]) + math.cos(angle) * float(r[2])), *r[3:]] for r in rows]
        path.write_text("\n".join(",".join(r) for r in [head, *rows]) + "\n")
    edit(file, ("[plate P3]\n", "[plate P3]\nturn = 30 deg\n"))
    same_margins(before, told(program, file))


def bends(**keys):
    b = sets.draw(11, tubes=9, plates=5, scatter=0.35, shift=0.02, turn_deg=0.002, windows=False)
    b.tube_keys = {"wall": 2.11, "elastic_modulus": "195 GPa", "yield_strength": "205 MPa"}
    b.keys.update({"friction": 0.3, "accept": "bending", **keys})
    return b


def limits_of_bending(program, folder):
    each = told(program, bends().write(folder / "free"))
    bent = [t for t in each.values() if t["class"] == "passes by bending"]
    assert len(bent) >= 3 and all(t["verdict"] == "conforms" for t in bent), [t["class"] for t in each.values()]
    for key, value, unit, why in (("stress_share", "stress_worst", 205 / 100, "stress"), ("push_limit", "push_worst", 1, "push")):
        limit = sorted(t[value] for t in bent)[len(bent) // 2]
        for factor in (1 + 1e-9, 1 - 1e-4):
            text = f"{limit * factor / unit!r} " + ("%" if key == "stress_share" else "N")
            after = told(program, bends(**{key: text}).write(folder / key))
            for tube in bent:
                fails = tube[value] > limit * factor
                now = after[tube["tube"]]
                assert (now["class"], now["why"], now["verdict"]) == \
                    (("does not pass", why, "does not conform") if fails else ("passes by bending", None, "conforms")), (key, now)
    after = told(program, bends(accept="straight").write(folder / "straight"))
    assert all(after[t["tube"]]["verdict"] == "does not conform" and after[t["tube"]]["class"] == t["class"] for t in bent)


def doubly_used(program, folder):
    """Two holes nearest to one tube: the nearer keeps it, both are named, and the tube does not conform."""
    b = good()
    b.keys["match"] = "places"
    file = b.write(folder / "double", nominal=False)
    path = folder / "double/P1.csv"
    rows = path.read_text().splitlines()
    near = next(r.split(",") for r in rows if r.startswith("T5,"))
    for face in ("entry", "exit"):
        rows.append(f"X1,{float(near[1]) + 9!r},{near[2]},25.8,{face}")
    path.write_text("\n".join(rows) + "\n")
    status, said = answer(program, file)
    each = {t["tube"]: t for t in said["bundle"]["each"]}
    assert said["bundle"]["mates"]["doubly_used"] == [["T5", "P1", ["T5", "X1"]]], said["bundle"]["mates"]
    assert status == 1 and each["T5"]["verdict"] == "does not conform" and each["T5"]["class"] == "passes straight"
    assert said["verdict"] == "does not conform" and all(t["verdict"] == "conforms" for n, t in each.items() if n != "T5")


def strays_and_missing(program, folder):
    file = good().write(folder / "stray")
    path = folder / "stray/P1.csv"
    rows = [r for r in path.read_text().splitlines() if not r.startswith("T4,")]
    path.write_text("\n".join(rows + ["Z9,60,60,25.8,entry"]) + "\n")
    status, said = answer(program, file)
    assert status == 1 and said["bundle"]["mates"]["stray"] == [["P1", "Z9"]]
    assert said["bundle"]["mates"]["missing"] == [["T4", "P1"]]
    tube = next(t for t in said["bundle"]["each"] if t["tube"] == "T4")
    assert (tube["class"], tube["why"], tube["verdict"]) == ("does not pass", "no hole", "does not conform")
    assert tube["margin"] is not None, "its other holes still count"


def nothing_judged(program, folder):
    """Tubes of which no two plates are known: no verdict of any, and that is no success."""
    b = good()
    for n, tube in enumerate(b.tubes):
        for p, plate in enumerate(b.plates):
            if p != n % len(b.plates):
                plate.holes.pop(tube)
    status, said = answer(program, b.write(folder / "none"))
    assert status == 1 and said["verdict"] == "not judged", (status, said["verdict"])
    assert said["bundle"]["not_judged"] == len(b.tubes) and said["bundle"]["as_set_out"]["worst_margin"] is None


def one_not_judged(program, folder):
    """A single tube of which nothing is known: the others conform, and the answer says so much and no more."""
    b = good()
    for plate in b.plates[1:]:
        plate.holes.pop("T1")
    status, said = answer(program, b.write(folder / "one"))
    tube = next(t for t in said["bundle"]["each"] if t["tube"] == "T1")
    assert tube["verdict"] == "not judged" and said["bundle"]["not_judged"] == 1
    assert status == 1 and said["verdict"] == "not proven", (status, said["verdict"])


def as_set_out(program, folder):
    b = sets.draw(44, tubes=9, plates=5, scatter=0.03, play=1.2, play_deg=0.15)
    free = answer(program, b.write(folder / "best"))[1]["bundle"]
    b.keys["placement"] = "as-set-out"
    held = answer(program, b.write(folder / "held"))[1]["bundle"]
    assert "placed" in free and "placed" not in held and held["judged_placement"] == "as set out"
    assert all(t["margin"] == t["margin_set_out"] for t in held["each"])
    assert all(p["move"] == {"dx": 0, "dy": 0, "angle_deg": 0} for p in held["plates"])


def best_fit(program, folder):
    """A plate set out 3 mm off on the measuring table: fitted to its nominal list it is where it should be."""
    b = good()
    file = b.write(folder / "off")
    path = folder / "off/P2.csv"
    head, *rows = [line.split(",") for line in path.read_text().splitlines()]
    path.write_text("\n".join(",".join(r) for r in [head] + [[r[0], repr(float(r[1]) + 3), *r[2:]] for r in rows]) + "\n")
    assert all(t["margin"] < -1 for t in told(program, file).values())
    edit(file, ("[plate P2]\n", "[plate P2]\nalign = best-fit\n"))
    assert all(t["margin"] > 0 for t in told(program, file).values())


def uncertain(program, folder):
    """u_place counts for plates that can be moved, as 2 |v_front + v_rear| u_place."""
    b = sets.draw(44, tubes=9, plates=5, scatter=0.03, play=1.2, play_deg=0.15)
    b.keys.update({"decision": "guarded", "uncertainty_position": 0.02, "uncertainty_diameter": 0.01})
    without = told(program, b.write(folder / "without"))
    b.keys["uncertainty_placement"] = 0.4
    placed = told(program, b.write(folder / "with"))
    for tube in without:
        more = math.sqrt(placed[tube]["u"] ** 2 - without[tube]["u"] ** 2)
        assert 0 <= more <= 2 * 0.2 + 1e-9, (tube, more)  # all of it on one plate at most
    assert max(placed[t]["u"] - without[t]["u"] for t in without) > 0.05
    for t in placed.values():
        guard = 1.645 * t["u"]
        wanted = "conforms" if t["margin"] >= guard - 1e-4 else "does not conform" if t["margin"] < -guard - 1e-4 else "not proven"
        assert t["verdict"] == wanted, t


def inches(program, folder):
    """The same set in inch, with decimal commas, gives the same margins in mm."""
    before = told(program, good().write(folder / "mm"))
    b = good()
    file = b.write(folder / "inch")
    text = file.read_text().replace("[bundle]", "[bundle]\nunits = inch")
    for key in ("diameter", "diameter_over", "station", "thickness", "play", "shift"):
        lines = []
        for line in text.splitlines():
            name, _, value = line.partition(" = ")
            lines.append(f"{name} = " + ", ".join(repr(float(v) / 25.4) for v in value.split(", ")) if name == key else line)
        text = "\n".join(lines) + "\n"
    file.write_text(text)
    for path in (folder / "inch").glob("*.csv"):
        head, *rows = [line.split(",") for line in path.read_text().splitlines()]
        rows = [[r[0], *(repr(float(v) / 25.4).replace(".", ",") for v in r[1:4]), *r[4:]] for r in rows]
        path.write_text("\n".join(";".join(r) for r in [head, *rows]) + "\n")
    same_margins(before, told(program, file), 1e-8)


CHECKS = (clearance_minimum, station_of, entry_looks, views, turn_and_shift, limits_of_bending, doubly_used, strays_and_missing,
          nothing_judged, one_not_judged, as_set_out, best_fit, uncertain, inches)


def main():
    wrong = 0
    for check in CHECKS:
        with tempfile.TemporaryDirectory() as folder:
            try:
                check(sys.argv[1], Path(folder))
            except AssertionError as why:
                wrong += 1
                print(f"{check.__name__}: {why}")
    print(f"{len(CHECKS)} keys and rules tried, {wrong} wrong")
    sys.exit(1 if wrong else 0)


main()
