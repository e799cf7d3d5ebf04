#!/usr/bin/python3
"""Random hole jobs, judged by plateproof and by this independent program.

holes_peer.py PROGRAM [JOBS] [SEED] [EVERY]

EVERY: the report folder with its tables is written and compared for each EVERYth job only, results.json for all.

Written from the definitions in docs/theory/holes.md and the manual, not from the source: numpy and scipy,
one hole after the other where that is clearer. Alignments, units, faces, views, repeats, rounds, plugged
holes, holes of kind other, direct ligaments, holes without names, both decisions, coverages and material
conditions, composite positions, jobs in mm and in inch are mixed at random. Values must agree to 1e-6 mm,
counts, names and verdicts exactly, in results.json and in every row of holes.csv and ligaments.csv.
"""
import csv
import json
import os
import shutil
import subprocess
import sys
import tempfile

try:
    import numpy as np

    from holes_peer_job import FACES, random_job, write_job
    from holes_peer_judge import ALLOW, KIND, judge
except ImportError as missing:
    print(f"skipped: {missing.name} is not installed for {sys.executable}")
    sys.exit(77)

TOLERANCE = 1e-6


def differences(where, got, want):
    if isinstance(want, dict):
        for key, value in want.items():
            if key not in (got or {}):
                yield f"{where}.{key} is not there"
            else:
                yield from differences(f"{where}.{key}", got[key], value)
    elif isinstance(want, (list, tuple)):
        if len(got) != len(want):
            yield f"{where}: {got}, not {want}"
        else:
            for i, value in enumerate(want):
                yield from differences(f"{where}[{i}]", got[i], value)
    elif isinstance(want, (float, np.floating)):
        if got is None or not abs(got - want) <= TOLERANCE:
            yield f"{where}: {got!r}, not {float(want)!r}"
    elif got != want:
        yield f"{where}: {got!r}, not {want!r}"


POSITION_CLASS = {"conforms": "in", "does not conform": "out", "not proven": "not proven", "not judged": ""}


def diameter_class(j, b):
    if b["dmin"] < j.size - j.under - ALLOW:
        return "undersize"
    if b["dmax"] > j.size + j.over_limit + ALLOW:
        return "oversize"
    return "in remainder" if b["dmax"] > j.size + j.over + ALLOW else "in tolerance"


def row_differences(j, a, row):
    name, face = row["hole"], FACES.index(row["face"])
    b = a.bores[name, face]
    near = [v for (p, q, f), (v, _) in a.values.items() if f == face and name in (p, q)]
    want = {"x": b["q"][0], "y": b["q"][1], "diameter_min": b["dmin"], "diameter_max": b["dmax"],
            "smallest_ligament": min(near, default=None)}
    if name in a.place:
        want.update(nominal_x=a.place[name][0], nominal_y=a.place[name][1], dx=b["off"][0], dy=b["off"][1],
                    position=b["position"], position_limit=b["limit"],
                    position_class=POSITION_CLASS[b["verdict"]], u_position=b["u"], position_bias=b["bias"])
    if KIND.get(name) == "tube":
        want["diameter_class"] = diameter_class(j, b)
    got = {k: row[k] if k.endswith("class") else float(row[k]) if row[k] else None for k in want}
    yield from differences(f"holes.csv {name} {row['face']}", got, want)


def file_differences(j, a, report):
    with open(f"{report}/holes.csv", newline="") as f:
        rows = list(csv.DictReader(f))
    if {(r["hole"], FACES.index(r["face"])) for r in rows} != set(a.bores) or len(rows) != len(a.bores):
        yield f"holes.csv has {len(rows)} rows, not the {len(a.bores)} wanted"
        return
    for row in rows:
        yield from row_differences(j, a, row)
    pairs = {}
    if os.path.exists(f"{report}/ligaments.csv"):
        with open(f"{report}/ligaments.csv", newline="") as f:
            pairs = {(r["hole_a"], r["hole_b"], FACES.index(r["face"])): r for r in csv.DictReader(f)}
    if set(pairs) != set(a.values):
        yield f"ligaments.csv has {len(pairs)} rows, not the {len(a.values)} wanted"
        return
    for key, (value, _) in a.values.items():
        want = {"ligament": value, "class": ""}
        if j.standard is not None:
            want["class"] = ("standard" if value >= j.standard - ALLOW else
                             "in remainder" if value >= j.minimum - ALLOW else "thin")
        got = {"ligament": float(pairs[key]["ligament"]), "class": pairs[key]["class"]}
        yield from differences(f"ligaments.csv {key}", got, want)


def check(program, seed, folder, tables):
    j = random_job(np.random.default_rng(seed))
    write_job(j, folder)
    where = ["-o", f"{folder}/report", "-q"] if tables else ["--json"]
    done = subprocess.run([program, "inspect", f"{folder}/job.ini", *where, "--threads", str(1 + seed % 3)],
                          capture_output=True, text=True)
    if done.returncode not in (0, 1):
        return [f"exit {done.returncode}: {done.stderr.strip()}"], None
    got = json.loads(open(f"{folder}/report/results.json").read() if tables else done.stdout)
    a = judge(j)
    want = {"nominal": a.nominal, "measured": a.measured, "unmeasured": a.unmeasured, "extra": a.extra,
            "doubly_claimed": a.doubly, "misdrilled_pairs": a.misdrilled, "plugged": a.plugged,
            "others": a.others, "alignment": a.alignment, "position": a.position, "diameter": a.diameter,
            "ligament": a.ligament, "edge": a.edge}
    if a.drift:
        want["drift"] = a.drift
    if a.pattern:
        want["pattern"] = a.pattern
    found = list(differences("holes", got["holes"], want))
    found += list(differences("verdict", got["verdict"], a.verdict))
    if tables:
        found += list(file_differences(j, a, f"{folder}/report"))
    if done.returncode != (0 if a.verdict in ("conforms", "not judged") else 1):
        found.append(f"exit status {done.returncode} for {a.verdict}")
    return found, a.verdict


def main():
    program = sys.argv[1]
    jobs = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    every = int(sys.argv[4]) if len(sys.argv) > 4 else 1
    keep = os.environ.get("KEEP")
    bad, verdicts = 0, {}
    folder = keep or tempfile.mkdtemp(prefix="plateproof-peer-")
    try:
        for seed in range(first, first + jobs):
            shutil.rmtree(f"{folder}/report", ignore_errors=True)
            for name in os.listdir(folder):
                os.remove(f"{folder}/{name}")
            found, verdict = check(program, seed, folder, seed % every == 0)
            verdicts[verdict] = verdicts.get(verdict, 0) + 1
            if found:
                bad += 1
                print(f"seed {seed}:")
                for line in found[:8]:
                    print(f"  {line}")
    finally:
        if not keep:
            shutil.rmtree(folder)
    print(f"{jobs} random jobs, {bad} differ; verdicts {verdicts}")
    sys.exit(1 if bad else 0)


main()
