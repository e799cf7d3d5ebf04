#!/usr/bin/env python3
"""Every kind of file a job can name, replaced by something strange (too large for the corpus, or no
plain file at all): exit status 2 or 3, one line that names the file and says what to do, nothing on
standard output and no folder written. Then small jobs at the edge of sense.

    strange_files.py PROGRAM [--show]
"""

import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

FILES = Path(__file__).resolve().parent.parent / "cli" / "files"
SECONDS = 20  # a file that makes a run hang
MEMORY = 2 << 30  # or take all memory

# ---- the jobs: one for each kind of file ----

PLATE = "[plate]\noutline = rectangle\nwidth = 400\nheight = 300\nthickness = 20\n"
HOLES = "[holes]\nnominal = nominal.csv\nmeasured = measured.csv\ntube_diameter = 1 in\npitch = 32\n"
LIMIT = "[rules]\nligament_minimum = 3.05\n"
HOLDDOWN = "[survey]\nfile = survey.csv\n{}[support]\n{}[foot]\nforce = 6 kN\n[holddown]\ngap_limit = 0.3\n{}"
ON_TABLE = "kind = table\n"

ROLES = {
    "survey": PLATE + "[survey]\nfile = {}\n",
    "underside": PLATE + "[survey]\nfile = survey.csv\nunderside = {}\n",
    "nominal": PLATE + HOLES.replace("nominal.csv", "{}") + LIMIT,
    "measured": PLATE + HOLES.replace("measured.csv", "{}") + LIMIT,
    "ligaments": PLATE + HOLES + "ligaments = {}\n" + LIMIT,
    "checks": PLATE + HOLES + "checks = {}\n" + LIMIT,
    "datum": PLATE + HOLES + "align = datum-points\ndatum_points = {}\n" + LIMIT,
    "pins": PLATE + HOLDDOWN.format("", "kind = pins\nfile = {}\n", "") + "[holes]\nnominal = nominal.csv\n",
    "clamps": PLATE + HOLDDOWN.format("", ON_TABLE, "clamp_candidates = {}\n") + "[holes]\nnominal = nominal.csv\n",
    "three points": PLATE
    + HOLDDOWN.format("laid = on-three-points\nthree_points = {}\n", ON_TABLE, "")
    + "[holes]\nnominal = nominal.csv\n",
    "rules": PLATE + HOLES + "[rules]\nset = {}\n",
    "flatness rules": PLATE + "flatness_rule = {}\n[survey]\nfile = survey.csv\n",
    "job": None,
}


# ---- what stands in its place, the status and the words of the answer ----


def write(content):
    return lambda path: path.write_bytes(content)


def lines(count, line):
    return lambda path: path.write_text("hole,x,y,z\n" + line * count)


STRANGE = {
    "absent": (lambda path: None, 3, "no such file|could not be|cannot be|No such file"),
    "folder": (lambda path: path.mkdir(), 3, "folder|directory"),
    "pipe": (lambda path: os.mkfifo(path), 3, "regular|plain|ordinary|pipe"),
    "link to itself": (lambda path: path.symlink_to(path.name), 3, "link"),
    "links in a ring": (lambda path: (path.symlink_to("ring"), (path.parent / "ring").symlink_to(path.name)), 3, "link"),
    "dangling link": (lambda path: path.symlink_to("nowhere"), 3, "no such file|No such file"),
    "endless device": (lambda path: path.symlink_to("/dev/zero"), 3, "regular|plain|ordinary|device"),
    "empty device": (lambda path: path.symlink_to("/dev/null"), 3, "regular|plain|ordinary|device"),
    "empty": (write(b""), 2, "empty|nothing to compute|section"),
    "blank lines": (write(b"\n" * 1000), 2, "empty|nothing to compute|section"),
    "zero bytes": (write(b"\0" * 4096), 2, "zero|NUL|control|0x00|text"),
    "picture": (write(b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8), 2, "text|UTF-8|control|picture"),
    "workbook": (write(b"PK\x03\x04" + bytes(range(256)) * 8), 2, "text|UTF-8|control|workbook|spreadsheet"),
    "UTF-16": (write("hole,x,y\nA1,0,0\n".encode("utf-16")), 2, "UTF-16|UTF-8"),
    "UTF-16, no mark": (write("hole,x,y\nA1,0,0\n".encode("utf-16-le")), 2, "UTF-16|zero|NUL|UTF-8|0x00"),
    "Latin-1": (write("hole,x,y\nB\xe4r,\xe4,0\n".encode("latin-1")), 2, "UTF-8|number|column|section|neither"),
    "a line of 1 MB": (write(b"x" * 1000000 + b"\n"), 2, "long|bytes"),
    "10^5 columns": (write(b",".join([b"x"] * 100000) + b"\n"), 2, "long|bytes|cells|columns"),
    "10^4 columns": (write(b",".join([b"1"] * 10000) + b"\n"), 2, "long|bytes|cells|columns"),
    "10^5 rows of words": (lines(100000, "a,b,c,d\n"), 2, "number|section|column|needed|large|names"),
    "2 MB": (lines(200000, "one,two,t\n"), 2, "number|section|column|needed|large|cells|names"),
    "huge numbers": (lines(5, "a,1e400,-1e400,1e400\n"), 2, "finite|range|section|column|needed|large|names"),
    "not a number": (lines(5, "a,nan,nan,nan\n"), 2, "finite|number|section|column|needed|names"),
    "infinity": (lines(5, "a,inf,-inf,inf\n"), 2, "finite|number|section|column|needed|names"),
    "cut in a quote": (write(b'hole,x,y,z\n"A1,0,0'), 2, "quotation|section|column|needed|names"),
    "one byte": (write(b"x"), 2, ""),
}


def answer(program, folder, arguments):
    def limit():
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))

    try:
        done = subprocess.run([program, *arguments], cwd=folder, capture_output=True, timeout=SECONDS,
                              stdin=subprocess.DEVNULL, preexec_fn=limit if not os.environ.get("PP_NO_LIMIT") else None)
        return done.returncode, done.stdout, done.stderr.decode("utf-8", "replace")
    except subprocess.TimeoutExpired:
        return "hung", b"", ""


def fresh(place):
    folder = Path(place) / "work"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(FILES, folder)
    return folder


def try_strange(program, place, role, kind):
    make, want, words = STRANGE[kind]
    folder = fresh(place)
    name = "strange.ini" if "rules" in role or role == "job" else "strange.csv"
    make(folder / name)
    job = "strange.ini" if role == "job" else "job.ini"
    if role != "job":
        (folder / job).write_text(ROLES[role].format("./" + name if "rules" in role else name))
    before = sorted(p.name for p in folder.iterdir())
    status, out, said = answer(program, folder, ["inspect", job])
    after = sorted(p.name for p in folder.iterdir())
    good = (status == want and not out and before == after and re.search(words, said) and "strange" in said.split(" ")[0]
            and re.search("[;?]", said) and 1 <= said.count("\n") <= 22 and len(said) < 8192)
    return good, f"{role}, {kind}: status {status} (wanted {want}), {said[:300]!r}"


# ---- the edge of sense: what is written, the status, the words of a refusal, else of the summary ----

SMALL = (FILES / "small.ini").read_text()
NOMINAL, MEASURED = (FILES / "nominal.csv").read_text(), (FILES / "measured.csv").read_text()
FLAT = "x,y,z\n" + "".join(f"{x},{y},{{}}\n" for x in (-150, 0, 150) for y in (-100, 0, 100))


def holes(job=SMALL, nominal=NOMINAL, measured=MEASURED):
    return {"job.ini": job, "nominal.csv": nominal, "measured.csv": measured}


def survey(points, job=PLATE + "[survey]\nfile = survey.csv\n"):
    return {"job.ini": job, "survey.csv": points}


def line_points(across):
    return "x,y,z\n" + "".join(f"{20 * i},{20 * i + across * (i % 3)},{0.01 * (i % 5)}\n" for i in range(10))


def in_unit(units):
    return "".join(line if i == 0 else ",".join([line.split(",")[0]] + [f"{float(v) * units:.9g}" for v in line.split(",")[1:]]) + "\n"
                   for i, line in enumerate(MEASURED.splitlines(True)))


def swapped(text):
    return "".join(",".join((c[0], c[2], c[1], *c[3:])) for c in (line.split(",") for line in text.splitlines(True)))


EDGES = {
    "one hole": (holes(nominal="hole,x,y\nA1,0,0\n", measured="hole,x,y,diameter\nA1,0.01,0,25.7\n"), 0, ""),
    "one hole of three measured": (holes(measured="hole,x,y,diameter\nA1,0.01,0,25.7\n"), 1, ""),
    "no nominal holes": (holes(nominal="hole,x,y\n"), 2, r"^nominal.csv:.*no rows"),
    "no measured holes": (holes(measured="hole,x,y,diameter\n"), 2, r"^measured.csv:.*no rows"),
    "holes measured in inch": (holes(measured=in_unit(1 / 25.4)), 1, "", "is the unit of the measured holes wrong"),
    "holes measured in inch, written as such": (
        holes(job=SMALL.replace("measured = ", "length_unit = mm\nmeasured = "),
              measured=in_unit(1 / 25.4).replace("x,y,diameter", "x_in,y_in,diameter_in")), 0, ""),
    "columns swapped": (holes(measured=swapped(MEASURED)), 0, ""),
    "columns swapped under one header": (
        holes(measured=MEASURED.splitlines(True)[0] + "".join(swapped(MEASURED).splitlines(True)[1:])), 1, ""),
    "a name twice": (holes(nominal=NOMINAL + "A1,64,0\n"), 2, r"^nominal.csv:5:.*A1"),
    "an empty name": (holes(nominal=NOMINAL + ",64,0\n"), 2, r"^nominal.csv:5:"),
    "holes outside": (holes(nominal=NOMINAL + "A4,900,0\n"), 2, r"^nominal.csv:5:.*outline"),
    "a hole across the rim": (holes(nominal=NOMINAL + "A4,195,0\n", measured=MEASURED + "A4,195,0,25.7\n"), (0, 1), ""),
    "thickness zero": (holes(job=SMALL.replace("thickness = 30", "thickness = 0")), 2, r"^job.ini:7:"),
    "thickness negative": (holes(job=SMALL.replace("thickness = 30", "thickness = -30")), 2, r"^job.ini:7:"),
    "pitch negative": (holes(job=SMALL.replace("pitch = 32", "pitch = -32")), 2, r"^job.ini:12:"),
    "pitch under the tube": (holes(job=SMALL.replace("pitch = 32", "pitch = 20")), 2, r"^job.ini:.*pitch"),
    "a disc and a rectangle": (holes(job=SMALL.replace("diameter = 400", "diameter = 400\nwidth = 3")), 2, r"^job.ini:7:"),
    "a key twice": (holes(job=SMALL.replace("pitch = 32", "pitch = 32\npitch = 33")), 2, r"^job.ini:13:"),
    "tube diameter in metres": (holes(job=SMALL.replace("= 1 in", "= 0.0254")), 2, "tube"),
    "all points in one line": (survey(line_points(0)), 2, r"^survey.csv.*one line"),
    "points nearly in one line": (survey(line_points(1e-4)), 2, r"^survey.csv.*one line"),
    "points a little off one line": (survey(line_points(10)), 0, ""),
    "one point": (survey("x,y,z\n1,2,3\n"), 2, r"^survey.csv.*at least 3"),
    "no points": (survey("x,y,z\n"), 2, r"^survey.csv"),
    "the same point ten times": (survey("x,y,z\n" + "1,2,3\n" * 10), 2, r"^survey.csv"),
    "three points": (survey("x,y,z\n0,0,0.1\n100,0,0.2\n0,100,0.3\n"), 0, ""),
    "perfectly flat": (survey(FLAT.format(*[0] * 9)), 0, ""),
    "survey in inch": (survey(FLAT.format(*[1] * 9).replace("150", "3810").replace("100", "2540")), 2, "unit"),
    "a point at 1e300": (survey(FLAT.format(*[0] * 9) + "1e300,0,0\n"), 2, r"^survey.csv:11:1"),
    "a height of 1e8": (survey(FLAT.format(*[0] * 8, 1e8)), (0, 2), ""),
    "a straightedge far shorter than the plate": (
        survey(FLAT.format(*[0] * 9).replace("150", "400000").replace("100", "300000"),
               "[plate]\noutline = rectangle\nwidth = 1e6 mm\nheight = 1e6 mm\nthickness = 20\n"
               "[survey]\nfile = survey.csv\nstraightedge = 10\n"), 2, r"^job.ini:8:.*unit wrong"),
    "the job names itself": ({"job.ini": PLATE + "[survey]\nfile = job.ini\n"}, 2, r"^job.ini"),
    "a path out of the folder": ({"job.ini": PLATE + "[survey]\nfile = ../../../../../../etc/passwd\n"}, 2, r"passwd:\d"),
    "a path of 5000 bytes": ({"job.ini": PLATE + "[survey]\nfile = " + "d/" * 2500 + "\n"}, 2, r"^job.ini:7"),
    "a path of 190 bytes": ({"job.ini": PLATE + "[survey]\nfile = " + "d/" * 90 + "\n"}, 3, "No such file"),
    "an empty path": ({"job.ini": PLATE + "[survey]\nfile =\n"}, 2, "nothing to compute"),
    "a path with an escape": ({"job.ini": PLATE + "[survey]\nfile = a\x1b[31mb.csv\n"}, 2, r"^job.ini:7.*control"),
    "a rule set like a path": (holes(job=SMALL + "set = ../../etc/passwd\n"), (2, 3), ""),
    "format marks in names": ({"job.ini": PLATE + "[survey]\nfile = %n%s%d%99999999d.csv\n"}, 3, "%n%s%d%99999999d.csv"),
}


def try_edge(program, place, name):
    written, want, words, *printed = EDGES[name]
    folder = fresh(place)
    for path, text in written.items():
        (folder / path).write_text(text)
    status, out, said = answer(program, folder, ["inspect", "job.ini"])
    refused = status in (2, 3)
    printed = all(text in " ".join(out.decode("utf-8", "replace").split()) for text in printed)
    good = printed and status in (want if isinstance(want, tuple) else (want,)) and re.search(words, said)
    good = good and (folder / "job-report").exists() != refused and bool(out) != refused
    if refused:
        good = good and re.search("[;?]", said) and 1 <= said.count("\n") <= 22
    return good, f"{name}: status {status} (wanted {want}), {said[:300]!r}"


def main():
    program = os.path.abspath(sys.argv[1])
    failures = 0
    with tempfile.TemporaryDirectory() as place:
        tries = [try_strange(program, place, role, kind) for role in ROLES for kind in STRANGE]
        tries += [try_edge(program, place, name) for name in EDGES]
    for good, text in tries:
        failures += not good
        if not good or "--show" in sys.argv:
            print(("ok   " if good else "WRONG ") + text)
    print(f"{len(tries)} strange files and jobs, {failures} wrong")
    return 1 if failures or not tries else 0


if __name__ == "__main__":
    sys.exit(main())
