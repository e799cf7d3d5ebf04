#!/usr/bin/env python3
"""The same plate told in other ways gives the same answer: other threads, order of rows, units,
axes, places, frames. And what has no answer is refused with the reason.

    metamorphic.py PROGRAM

Only the standard library is used. Coordinates are made in code from a fixed seed and written with
17 significant digits, so that only the program's own arithmetic is tried.
"""

import json
import math
import os
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

tried = wrong = 0


def check(name, good, why=""):
    global tried, wrong
    tried += 1
    if not good:
        wrong += 1
        print(f"{name}: not so: {why}")


# ---- a plate ----


def make_survey(count=120, seed=7):
    """A dish of 1.3 mm with a twist and 5 um of noise, over 900 mm x 600 mm."""
    draw = random.Random(seed)
    points = []
    for _ in range(count):
        x, y = draw.uniform(-450, 450), draw.uniform(-300, 300)
        z = 1.3 * ((x / 450) ** 2 + 0.4 * (y / 300) ** 2) + 0.3 * x * y / 135000 + draw.gauss(0, 0.005)
        points.append((x, y, z))
    return points


def make_holes(seed=11):
    draw = random.Random(seed)
    nominal = [(f"R{r}C{c}", 31.75 * (c + 0.5 * (r % 2)) - 90, 31.75 * math.sqrt(0.75) * r - 70)
               for r in range(6) for c in range(6)]
    measured = [(n, x + draw.gauss(0, 0.06), y + draw.gauss(0, 0.06), 25.7 + draw.gauss(0, 0.02)) for n, x, y in nominal]
    return nominal, measured


def table(header, rows, unit=1.0):
    cells = lambda row: [f"{v * unit:.17g}" if isinstance(v, float) else str(v) for v in row]
    return header + "\n" + "".join(",".join(cells(row)) + "\n" for row in rows)


SURVEY_JOB = """[plate]
outline = rectangle
width = 900
height = 600
thickness = {thickness}
{plate}
[survey]
file = survey.csv
flatness_limit = 1.5
area_threshold = 0.3
straightedge = 400
{survey}
"""
HOLES_JOB = """[plate]
outline = rectangle
width = 900
height = 600
thickness = 20
[holes]
nominal = nominal.csv
measured = measured.csv
tube_diameter = 1 in
pitch = 31.75
position_limit = 0.3
{}
[rules]
ligament_minimum = 3.05
"""


def run(program, job, **tables):
    threads, environment = tables.pop("threads", 1), tables.pop("environment", {})
    with tempfile.TemporaryDirectory() as place:
        (Path(place) / "job.ini").write_text(job)
        for name, text in tables.items():
            (Path(place) / f"{name}.csv").write_text(text)
        done = subprocess.run([program, "inspect", "--json", "--threads", str(threads), "job.ini"], cwd=place,
                              capture_output=True, timeout=100, env={**os.environ, "SOURCE_DATE_EPOCH": "0", **environment})
    return done.returncode, done.stdout, done.stderr.decode()


def answer(program, job, **tables):
    status, out, said = run(program, job, **tables)
    if status not in (0, 1):
        raise SystemExit(f"status {status}: {said}\n{job}")
    return json.loads(out)


def survey_answer(program, points, thickness=20, plate="", survey="", **more):
    return answer(program, SURVEY_JOB.format(thickness=thickness, plate=plate, survey=survey),
                  survey=table("x,y,z", points), **more)["flatness"]


def close(a, b, relative=1e-9, absolute=0.0):
    return a == b or abs(a - b) <= max(relative * max(abs(a), abs(b)), absolute)


def same_flatness(name, a, b, relative=1e-9, absolute=0.0, fitted=1e-6, rows=None):
    """Zones to `relative`; what the fitted surface says to `fitted`, for its mesh may lie otherwise."""
    for key in ("flatness", "peak", "valley", "rms"):
        check(f"{name}: least squares {key}", close(a["least_squares"][key], b["least_squares"][key], relative, absolute),
              f"{a['least_squares'][key]!r} {b['least_squares'][key]!r}")
    check(f"{name}: minimum zone", close(a["minimum_zone"]["flatness"], b["minimum_zone"]["flatness"], relative, absolute),
          f"{a['minimum_zone']['flatness']!r} {b['minimum_zone']['flatness']!r}")
    if rows:
        witness = {w["row"] for w in a["minimum_zone"]["witness"]}
        check(f"{name}: witness", {rows[w["row"]] for w in b["minimum_zone"]["witness"]} == witness)
    if fitted:
        check(f"{name}: straightedge", close(a["straightedge"][0]["gap"], b["straightedge"][0]["gap"], fitted),
              f"{a['straightedge'][0]['gap']!r} {b['straightedge'][0]['gap']!r}")
        size = lambda f: sum(x["area"] for x in f["areas"])
        check(f"{name}: areas", close(size(a), size(b), fitted), f"{size(a)} {size(b)}")


def turned(points, degrees):
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return [(c * x - s * y, s * x + c * y, *rest) for x, y, *rest in points]


def shuffled(items, seed=3):
    order = list(range(len(items)))
    random.Random(seed).shuffle(order)
    return [items[i] for i in order], {new + 1: old + 1 for new, old in enumerate(order)}


# ---- what must stay the same ----


def surveys(program):
    points = make_survey()
    base = survey_answer(program, points)
    rows, back = shuffled(points)
    same_flatness("rows in another order", base, survey_answer(program, rows), 1e-12, fitted=1e-7, rows=back)
    moved = [(x + 317.0, y - 215.0, z + 44.0) for x, y, z in points]
    same_flatness("moved with the plate", base, survey_answer(program, moved, plate="centre = 317, -215"), 1e-9)
    moved = [(x + 1e6, y - 1e6, z + 1e6) for x, y, z in points]
    # a coordinate of 1e6 keeps 1.2e-10 mm
    same_flatness("moved by 1e6 mm", base, survey_answer(program, moved, plate="centre = 1e6, -1e6"), absolute=2e-9, fitted=1e-5)
    same_flatness("survey axes turned by 30 degrees", base,
                  survey_answer(program, turned(points, -30), survey="survey_angle = 30 deg"), 1e-9)
    mirrored = [(-x, y, z) for x, y, z in points]
    same_flatness("mirrored", base, survey_answer(program, mirrored), 1e-9, fitted=1e-4)
    over = survey_answer(program, [(x, -y, -z) for x, y, z in points])
    check("turned over: peak and valley change places",
          close(over["least_squares"]["peak"], base["least_squares"]["valley"])
          and close(over["least_squares"]["valley"], base["least_squares"]["peak"]))
    check("turned over: minimum zone", close(over["minimum_zone"]["flatness"], base["minimum_zone"]["flatness"]))
    for axis, order in (("x", lambda x, y, z: (z, x, y)), ("y", lambda x, y, z: (y, z, x)), ("-z", lambda x, y, z: (x, -y, -z)),
                        ("-x", lambda x, y, z: (-z, x, -y)), ("-y", lambda x, y, z: (-y, -z, x))):
        same_flatness(f"up = {axis}", base, survey_answer(program, [order(*p) for p in points], survey=f"up = {axis}"), 1e-12)
    inch = answer(program, SURVEY_JOB.format(thickness=20, plate="", survey="length_unit = in"),
                  survey=table("x,y,z", points, 1 / 25.4))["flatness"]
    same_flatness("survey in inch", base, inch, 1e-9, absolute=1e-12)
    inch = answer(program, "[job]\nunits = inch\n" + SURVEY_JOB.format(thickness="20 mm", plate="", survey="")
                  .replace("= 900", "= 900 mm").replace("= 600", "= 600 mm").replace("= 1.5", "= 1.5 mm")
                  .replace("= 0.3", "= 0.3 mm").replace("= 400", "= 400 mm"), survey=table("x,y,z", points, 1 / 25.4))["flatness"]
    same_flatness("job in inch", base, inch, 1e-9, absolute=1e-12)
    for unit, factor in (("m", 1e-3), ("cm", 0.1), ("um", 1e3)):
        same_flatness(f"survey in {unit}", base, answer(program, SURVEY_JOB.format(thickness=20, plate="", survey=f"length_unit = {unit}"),
                      survey=table("x,y,z", points, factor))["flatness"], 1e-9, absolute=1e-12)
    for thickness in (0.5, 3, 120, 500):
        same_flatness(f"thickness {thickness}", base, survey_answer(program, points, thickness=f"{thickness} mm"), 1e-15, fitted=0)


def holes_of(program, nominal, measured, extra="", unit=1.0, **more):
    return answer(program, HOLES_JOB.format(extra), nominal=table("hole,x,y", nominal, unit),
                  measured=table("hole,x,y,diameter", measured, unit), **more)["holes"]


def same_holes(name, a, b, relative=1e-9, absolute=1e-11):
    for part, keys in (("position", ("largest", "mean", "out", "largest_hole", "verdict")),
                       ("diameter", ("smallest", "largest", "mean", "in_tolerance", "verdict")),
                       ("ligament", ("pairs", "smallest", "mean", "standard", "thin", "verdict"))):
        for key in keys:
            x, y = a[part][key], b[part][key]
            good = x == y if isinstance(x, (str, int)) else close(x, y, relative, absolute)
            check(f"{name}: {part} {key}", good, f"{x!r} {y!r}")


def hole_lists(program):
    nominal, measured = make_holes()
    base = holes_of(program, nominal, measured)
    check("some positions are out and some not", 0 < base["position"]["out"] < len(nominal), str(base["position"]))
    same_holes("measured rows in another order", base, holes_of(program, nominal, shuffled(measured)[0]))
    same_holes("nominal rows in another order", base, holes_of(program, shuffled(nominal)[0], measured))
    move = lambda rows, x, y: [(r[0], r[1] + x, r[2] + y, *r[3:]) for r in rows]
    same_holes("moved", base, holes_of(program, move(nominal, 113.0, -57.0), move(measured, 113.0, -57.0)), absolute=1e-10)
    turn = lambda rows: [(r[0], *turned([(r[1], r[2])], 37)[0], *r[3:]) for r in rows]
    same_holes("turned by 37 degrees", base, holes_of(program, turn(nominal), turn(measured)), absolute=1e-10)
    mirror = lambda rows: [(r[0], -r[1], r[2], *r[3:]) for r in rows]
    same_holes("mirrored", base, holes_of(program, mirror(nominal), mirror(measured)))
    same_holes("in inch", base, holes_of(program, nominal, measured, "length_unit = in", unit=1 / 25.4), absolute=1e-10)
    fitted = holes_of(program, nominal, measured, "align = best-fit")
    off = move([(r[0], *turned([(r[1], r[2])], 3)[0], r[3]) for r in measured], 21.0, -13.0)
    same_holes("best fit of what was moved and turned", fitted, holes_of(program, nominal, off, "align = best-fit"), absolute=1e-9)


def threads_and_bytes(program):
    nominal, measured = make_holes()
    job = SURVEY_JOB.format(thickness=20, plate="", survey="") + HOLES_JOB.split("thickness = 20\n")[1].format("") + (
        "[support]\nkind = table\n[foot]\nforce = 2 kN\nouter_diameter = 100\ninner_diameter = 40\n[holddown]\ngap_limit = 0.2\n")
    files = dict(survey=table("x,y,z", make_survey()), nominal=table("hole,x,y", nominal),
                 measured=table("hole,x,y,diameter", measured))
    first = run(program, job, threads=1, **files)
    check("a job of everything runs", first[0] in (0, 1) and b'"holddown"' in first[1], first[2])
    for threads in (2, 3, 8):
        check(f"the same bytes with {threads} threads", run(program, job, threads=threads, **files)[:2] == first[:2])


    with tempfile.TemporaryDirectory() as place:
        german = {"LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8", "LOCPATH": place}
        made = shutil.which("localedef") and subprocess.run(
            ["localedef", "-i", "de_DE", "-f", "UTF-8", f"{place}/de_DE.UTF-8"], capture_output=True).returncode == 0
        if not made:
            print("a German locale: skipped, localedef or its sources are missing (package locales)")
        check("the same bytes under a locale with decimal commas", run(program, job, environment=german, **files)[:2] == first[:2])


def counts_of_points(program):
    three = [(-200.0, -100.0, 0.3), (300.0, -150.0, -0.2), (10.0, 220.0, 0.7)]
    zone = survey_answer(program, three)["minimum_zone"]["flatness"]
    check("three points lie in one plane", zone < 1e-12, repr(zone))
    points = make_survey()
    base = survey_answer(program, points)
    # every point 8334 times: a million rows, of the same plane and the same zone
    many = survey_answer(program, points * 8334)
    check("a million rows are read", many["points"] == len(points) * 8334)
    same_flatness("every point 8334 times", base, many, 1e-9, fitted=0)


def refusals(program):
    job = SURVEY_JOB.format(thickness=20, plate="", survey="")
    for across in (0.0, 1e-6, 1e-4):
        line = [(4.0 * i - 400, 2.0 * i - 200 + across * (i % 3), 0.01 * (i % 7)) for i in range(200)]
        status, _, said = run(program, job, survey=table("x,y,z", line))
        check(f"points {across} mm off one line are refused", status == 2 and "one line" in said and ";" in said, said)
    upright = [(x, z, y) for x, y, z in make_survey()]
    status, out, said = run(program, job, survey=table("x,y,z", upright))
    check("a plate surveyed upright without up is not answered as a flat one",
          status == 2 or json.loads(out)["flatness"]["minimum_zone"]["flatness"] < 10, said)


def main():
    program = os.path.abspath(sys.argv[1])
    for part in (surveys, hole_lists, threads_and_bytes, counts_of_points, refusals):
        part(program)
    print(f"{tried} relations, {wrong} broken")
    return 1 if wrong or not tried else 0


if __name__ == "__main__":
    sys.exit(main())
