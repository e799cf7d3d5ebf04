#!/usr/bin/env python3
"""Mistakes planted in the program, one at a time, and which of the bundle's tests notices first.

    mistakes.py [NUMBER...]        all of them: some minutes; run by hand (scripts/simulate.sh mistakes), not in CI

Works on a copy of the source in a temporary folder. Ends with status 1 when a mistake goes unnoticed.
"""
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
SOURCE = HERE.parent.parent
BUILD = "build/release"

# what is wrong, file, the text as it is, and as it is planted
MISTAKES = [
    ("the two views turned about an axis are taken for each other", "src/bundle/plate_holes.c",
     "plate->view == PP_TURNED_Y ? -x : x, fy = plate->view == PP_TURNED_X ? -y : y",
     "plate->view == PP_TURNED_X ? -x : x, fy = plate->view == PP_TURNED_Y ? -y : y"),
    ("a plate seen from behind keeps its entry face in front", "src/bundle/plate_holes.c",
     "return plate->view == PP_FROM_FRONT;", "return true;"),
    ("`turn` goes the other way", "src/bundle/plate_holes.c", "*bx = c * fx - s * fy", "*bx = c * fx + s * fy"),
    ("a hole read twice keeps its larger diameter", "src/bundle/plate_holes.c", "bore->diameter_min / 2", "bore->diameter_max / 2"),
    ("a baffle's window counts as a missing hole", "src/bundle/mates.c",
     "cells[k].expected = !h->has_nominal && m->set->plates[plate].role != PP_ROLE_BAFFLE;", "cells[k].expected = true;"),
    ("station_of is not heeded", "src/bundle/set.c", "plate->station_of == PP_STATION_MIDDLE ? plate->thickness / 2", "plate->station_of == PP_STATION_MIDDLE ? 0"),
    ("the plates' turns are linearised once and never again", "src/bundle/placing.c",
     "    memcpy(c->at, answer->move, sizeof c->at);\n", ""),
    ("placed discs are moved as if turns were small", "src/bundle/discs.c",
     ".cosine = cos(moves[p].angle)", ".cosine = 1"),
    ("the play is taken as a diameter", "src/bundle/bundle.c", ".radius = plate->play,", ".radius = plate->play / 2,"),
    ("the tube is taken at its nominal diameter", "src/bundle/bundle.c",
     ".largest_diameter = set->tube.diameter + set->tube.diameter_over", ".largest_diameter = set->tube.diameter"),
    ("a tube is bent as a solid bar", "src/bundle/bending.c", "double bore = diameter - 2 * wall;", "double bore = 0 * wall;"),
    ("stages of going in are forgotten", "src/bundle/bending.c", "for (size_t n = 3; n <= count; n++)", "for (size_t n = count; n <= count; n++)"),
    ("the uncertainty of a centre counts once, not twice", "src/bundle/uncertainty.c",
     "sum += 4 * (square(s.vx) + square(s.vy)) * square(d->u_centre[i]);", "sum += (square(s.vx) + square(s.vy)) * square(d->u_centre[i]);"),
    ("the stress counts against the whole yield strength whatever its share", "src/rules/bundle_rules.c",
     "set->stress_share * set->tube.yield_strength", "set->tube.yield_strength"),
    ("a tube with two holes in one plate conforms", "src/rules/bundle_rules.c",
     "(uint8_t)(b->mates.doubly[tube] ? PP_DOES_NOT_CONFORM : verdict)", "(uint8_t)verdict"),
    ("discs that are hardly in the way are not found", "src/bundle/passage.c",
     "        if (*bound - *radius > PROVEN) take_worst(f, found, 4, -found[4] - PROVEN / 2);\n", ""),
    ("what was known of a tube is kept though plates have moved", "src/bundle/pricing.c",
     "        s->p->low[k] -= s->moved;\n", ""),
    ("a placement is judged by the first tubes alone", "src/bundle/pricing.c",
     "        if (!p->take[k]) continue;\n", "        if (!p->take[k] || k >= 16) continue;\n"),
    ("the least movement is any that is as good", "src/bundle/pose_program.c",
     "    memcpy(cost + PP_POSE_LINE * w.tubes, w.at_border, w.border * sizeof *cost);\n", ""),
    ("the lightest tube is dropped in place of the heaviest", "src/bundle/placing.c",
     "if (share > most || ", "if (most < 0 || share < most || "),
]


def copy_source(folder):
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=SOURCE, capture_output=True, text=True, check=True).stdout
    for name in filter(None, listed.split("\0")):
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        if (SOURCE / name).exists():
            shutil.copy2(SOURCE / name, target)


def build(folder):
    done = subprocess.run(["cmake", "--build", folder / BUILD, "--parallel", "2", "--target", "plateproof_program", "test_bundle"],
                          capture_output=True, text=True)
    return done.returncode == 0, done.stdout[-2000:]


def commands_of(folder):
    """The quick tests, the cheapest first."""
    program, tests = folder / BUILD / "plateproof", folder / "tests/bundle"

    def python(name, *words):
        return [sys.executable, tests / name, program, *words]

    return {"bundle": [folder / BUILD / "tests/bundle/test_bundle"],
            "bundle_cases": python("cases.py", folder / "data/reference/bundle"),
            "bundle_placements": python("placements.py"),
            "bundle_random_set_swings": python("random_sets.py", "1", "283"),
            "bundle_report": python("report.py", folder / "data/demo-bundle"),
            "bundle_keys": python("keys.py"),
            "bundle_random_sets": python("random_sets.py", "6")}


def failing(folder):
    """The first test that fails, or None."""
    for name, command in commands_of(folder).items():
        try:
            if subprocess.run(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=300).returncode:
                return name
        except subprocess.TimeoutExpired:
            return f"{name} (no answer)"
    return None


def main():
    wanted = [int(a) for a in sys.argv[1:]] or range(1, len(MISTAKES) + 1)
    unnoticed = 0
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        copy_source(folder)
        subprocess.run(["cmake", "--preset", "release"], cwd=folder, check=True, capture_output=True)
        built, said = build(folder)
        assert built, said
        without = failing(folder)
        assert not without, f"without any mistake {without} fails"
        for number in wanted:
            what, name, right, wrong = MISTAKES[number - 1]
            text = (folder / name).read_text()
            assert text.count(right) == 1, f"{name} has {text.count(right)} times: {right}"
            (folder / name).write_text(text.replace(right, wrong))
            built, said = build(folder)
            noticed = failing(folder) if built else "the compiler"
            (folder / name).write_text(text)
            unnoticed += not noticed
            print(f"| {what} | {noticed or 'NOBODY'} |", flush=True)
    print(f"{len(wanted)} mistakes planted, {unnoticed} unnoticed")
    sys.exit(1 if unnoticed else 0)


if __name__ == "__main__":
    main()
