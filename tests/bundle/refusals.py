#!/usr/bin/env python3
"""What a set file or its lists can have wrong: refused with file, line and remedy, exit 2 or 3.

    refusals.py PROGRAM FOLDER    (the folder with the reference sets)
"""
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path


def sub(old, new, file="set.ini"):
    def edit(folder):
        path = folder / file
        text = path.read_text()
        assert old in text, (file, old)
        path.write_text(text.replace(old, new, 1))
    return edit


def cut_plates(folder):
    path = folder / "set.ini"
    parts = path.read_text().split("[plate ")
    path.write_text("[plate ".join(parts[:3]))


def no_names(folder):
    sub("nominal = b1_nominal.csv\n", "")(folder)
    path = folder / "b1.csv"
    rows = path.read_text().splitlines()
    path.write_text("\n".join([rows[0]] + ["," + r.split(",", 1)[1] for r in rows[1:]]) + "\n")


# what is done to the set "straight", exit status, words that the message must hold
WRONG = [
    (sub("match = names", "match = colour"), 2, ["set.ini:3:", "names or places"]),
    (sub("match = names", "matches = names"), 2, ["set.ini:3:", 'did you mean "match"?']),
    (sub("match = names", "wall = 2"), 2, ["set.ini:3:", "belongs in [tube]"]),
    (sub("[tube]", "[tubes]"), 2, ["set.ini:5:", "did you mean [tube]?"]),
    (sub("diameter = 25.4\n", ""), 2, ["set.ini:5:", "give [tube] diameter"]),
    (sub("diameter_over = 0.15", "diameter_over = 25.55"), 2, ["how much larger"]),
    (sub("diameter_over = 0.15", "wall = 13"), 2, ["half its diameter"]),
    (sub("diameter = 25.4", "diameter = 25,4"), 2, ["set.ini:6:", "25,4"]),
    (sub("diameter = 25.4", "diameter = 25.4 in"), 2, ["set.ini", "check length_unit"]),
    (sub("measured = b1.csv", "measured = b1.csv\nlength_unit = in"), 2, ["holes of plate B1", "check length_unit"]),
    (sub("[plate B1]", "[plate]"), 2, ["set.ini", "write [plate NAME]"]),
    (sub("[plate B2]", "[plate B1]"), 2, ["is there twice"]),
    (sub("thickness = 12\n", ""), 2, ["B1 has no thickness", "job file"]),
    (sub("thickness = 12", "thickness = 0"), 2, ["thickness", "above 0"]),
    (sub("station = 300\n", ""), 2, ["B1 has no station"]),
    (sub("station = 610", "station = 305"), 2, ["B1 and B2 overlap"]),
    (sub("station = 1900", "station = -100"), 2, ["rear", "stations grow from the front to the rear"]),
    (sub("measured = b1.csv\n", ""), 2, ["B1 has no measured holes"]),
    (sub("measured = b1.csv", "measured = b9.csv"), 3, ["b9.csv", "line"]),
    (sub("nominal = b1_nominal.csv\n", "align = best-fit\n"), 2, ["B1 has no nominal list to be fitted to"]),
    (no_names, 2, ["b1.csv", "no nominal list to find it by"]),
    (sub("match = names", "decision = guarded"), 2, ["uncertainty_position", "guarded"]),
    (sub("match = names", "accept = bending"), 2, ["accept = bending needs", "wall"]),
    (sub("match = names", "push_limit = 3 mm"), 2, ["set.ini:3:", "mm"]),
    (sub("role = front tube plate", "role = front"), 2, ["baffle, front tube plate, rear tube plate, front tubesheet or rear tubesheet"]),
    (sub("thickness = 12", "thickness = 12\njob = nowhere/job.ini"), 3, ["nowhere/job.ini"]),
    (sub("diameter,face", "width,face", "b1.csv"), 2, ["b1.csv", "diameter"]),
    (sub("25.801044", "-25.8", "b1.csv"), 2, ["b1.csv:2:", "above zero"]),
    (sub("25.801044", "wide", "b1.csv"), 2, ["b1.csv:2:"]),
    (sub("T2,", "T1,", "b1_nominal.csv"), 2, ["b1_nominal.csv:3", "T1"]),
    (sub("units = mm", "units = mm\n[job]\nunits = inch\n[bundle]"), 2, ["keep one of them"]),
    (cut_plates, 2, ["2 plates", "3 at least"]),
]


def main():
    program, cases = sys.argv[1], Path(sys.argv[2])
    wrong = 0
    with tempfile.TemporaryDirectory() as scratch:
        for number, (edit, status, words) in enumerate(WRONG):
            folder = Path(scratch) / str(number)
            shutil.copytree(cases / "straight", folder)
            edit(folder)
            done = subprocess.run([program, "bundle", folder / "set.ini", "-o", folder / "report"],
                                  capture_output=True, text=True)
            lacks = [w for w in words if w not in done.stderr]
            if done.returncode != status or lacks or (folder / "report").exists():
                wrong += 1
                print(f"{number}: exit {done.returncode} (wanted {status}), lacks {lacks}: {done.stderr.strip()}")
    print(f"{len(WRONG)} mistakes tried, {wrong} not told as they should be")
    sys.exit(1 if wrong else 0)


main()
