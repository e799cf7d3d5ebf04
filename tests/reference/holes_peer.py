#!/usr/bin/python3
"""Random hole jobs, judged by plateproof and by this independent program.

holes_peer.py PROGRAM TOOL [JOBS] [--first SEED] [--tables-every N] [--program-every N] [--planted MISTAKE]
              [--until-noticed] [--state FILE]

TOOL (holes_tool.c) judges one job after the other in one process, by the stages of PROGRAM. Each
N-th job's tables, holes.csv and ligaments.csv, are compared row by row, too; each N-th job also goes through PROGRAM, whose
report folder must hold the same bytes. --state: where a long run writes, every 500 jobs, what it has done; it goes on
from there. --planted: the judge is made wrong in one rule, and that must be noticed (names: holes_peer_planted.py);
--until-noticed: no more jobs than that takes.

Written from the definitions in docs/theory/holes.md and the manual, not from the source: numpy and scipy, one hole after
the other where that is clearer. What is mixed at random: features(). Values must agree to 1e-6 mm, counts, names and
verdicts exactly.
"""
import argparse
import csv
import fcntl
import io
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
try:
    import numpy as np

    import holes_peer_planted as planted
    from holes_peer_files import write_job
    from holes_peer_job import random_job
    from holes_peer_judge import ALLOW, FACES, GUARD, KIND, OneOf, judge, lower, upper, worst
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
    elif isinstance(want, OneOf):
        if got not in want:
            yield f"{where}: {got!r}, not one of {want!r}"
    elif isinstance(want, (list, tuple)):
        if len(got) != len(want):
            yield f"{where}: {got}, not {want}"
        else:
            for i, value in enumerate(want):
                yield from differences(f"{where}[{i}]", got[i], value)
    elif isinstance(want, float):
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


def proof(inner, outer):
    return "not proven" if outer == "conforms" and inner == "not proven" else outer


def diameter_verdict(j, b):
    guard = GUARD * (j.u.get("diameter") or 0) / 2
    inner, outer = (upper(b["dmax"], j.size + v, guard) for v in (j.over, j.over_limit))
    return proof(inner, worst([outer, lower(b["dmin"], j.size - j.under, guard)]))


def ligament_proof(j, a, key):
    p, q, face = key
    passed_over = j.ligament_face == "exit" and face == 0 and (p, q, 1) in a.values
    if j.standard is None or passed_over:
        return ""
    value, u = a.values[key]
    guard = GUARD * u if j.decision == "guarded" else 0.0
    return POSITION_CLASS[proof(lower(value, j.standard, guard), lower(value, j.minimum, guard))]


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
        want["diameter_proof"] = "" if name in a.plugged else POSITION_CLASS[diameter_verdict(j, b)]
    got = {k: row[k] if k.endswith(("class", "proof")) else float(row[k]) if row[k] else None for k in want}
    yield from differences(f"holes.csv {name} {row['face']}", got, want)


def table_differences(j, a, holes, ligaments):
    rows = list(csv.DictReader(io.StringIO(holes, newline="")))
    if {(r["hole"], FACES.index(r["face"])) for r in rows} != set(a.bores) or len(rows) != len(a.bores):
        yield f"holes.csv has {len(rows)} rows, not the {len(a.bores)} wanted"
        return
    for row in rows:
        yield from row_differences(j, a, row)
    pairs = {(r["hole_a"], r["hole_b"], FACES.index(r["face"])): r
             for r in csv.DictReader(io.StringIO(ligaments, newline=""))}
    if set(pairs) != set(a.values):
        yield f"ligaments.csv has {len(pairs)} rows, not the {len(a.values)} wanted"
        return
    for key, (value, _) in a.values.items():
        want = {"ligament": value, "class": "", "proof": ligament_proof(j, a, key)}
        if j.standard is not None:
            want["class"] = ("standard" if value >= j.standard - ALLOW else
                             "in remainder" if value >= j.minimum - ALLOW else "thin")
        got = {"ligament": float(pairs[key]["ligament"]), "class": pairs[key]["class"],
               "proof": pairs[key]["proof"]}
        yield from differences(f"ligaments.csv {key}", got, want)


def features(j, a):
    """What a job exercises, for the counts at the end."""
    yield from (f"alignment {j.align}", f"decision {j.decision}", f"coverage {j.coverage}", f"verdict {a.verdict}",
                f"material condition {j.material}", "names" if j.named else "no names: nearest hole",
                "table in inch" if j.unit != 1.0 else "table in mm", "job in inch" if j.inch_job else "job in mm",
                f"outline {'disc' if j.disc else 'rectangle'}", f"ligament face {j.ligament_face}",
                "faces " + ["entry", "exit", "both", "mixed"][j.faces],
                f"delimiter {({',': 'comma', ';': 'semicolon'}).get(j.style['delimiter'], 'tab')}",
                f"header {j.style['header']}")
    if any(f == 1 for _, f in a.bores):
        yield f"exit view {j.exit_view}"
        if any(f == 0 for _, f in a.bores):
            yield f"exit alignment {j.exit_align}"
    seen, repeated = set(), False
    for row in j.rows_measured:
        key = (row[0], row[4], row[5])
        repeated = repeated or j.named and key in seen
        seen.add(key)
    limited = [k for k in ("position", "pattern", "drift", "edge", "other") if getattr(j, f"{k}_limit") is not None]
    yield from (f"limit of {k}" for k in limited)
    said = {r[6] for r in j.rows_measured}
    dispositions = bool(said - {"", "plugged"})
    for name, there in [
            ("repeat readings", repeated), ("two rounds", any(r[5] == 2 for r in j.rows_measured)),
            ("plugged", a.plugged), ("other dispositions", dispositions), ("holes of kind other", a.others),
            ("unmeasured holes", a.unmeasured), ("extra holes", a.extra), ("doubly claimed", a.doubly),
            ("misdrilled pairs", a.misdrilled), ("direct ligaments", j.direct), ("limits of ligaments", j.standard),
            ("limits of the built-in set", j.tube), ("readings on a grid of 0.01 mm", j.grid),
            ("warm, not compensated", j.warm and not j.compensated), ("warm, compensated", j.warm and j.compensated),
            ("u per metre", j.u.get("per_metre")), ("u of temperature", j.u.get("temperature")),
            ("u of expansion", j.u.get("expansion")), ("tube_holes given, right", j.tube_holes == a.nominal),
            ("tube_holes given, wrong", j.tube_holes not in (None, a.nominal)),
            ("centres equal to the drawing doubted", getattr(a, "doubted", False)),
            ("composite position", a.pattern), ("drift known", a.drift),
            ("position: some undecided", a.position["items"]["not_proven"]), ("position: some outside", a.position["proven_out"]),
            ("diameter: some undecided", a.diameter["items"]["not_proven"]), ("diameter: some outside", a.diameter["proven_out"]),
            ("diameter: in remainder", a.diameter["in_remainder"]), ("ligament: some thin", a.ligament["thin"]),
            ("ligament: in remainder", a.ligament["in_remainder"]), ("decimal comma", j.style["decimal comma"]),
            ("own words of faces", j.style["faces"] == "own words"), ("a spare column", j.style["spare column"]),
            ("values on their limit", j.grid and on_limit(j, a))]:
        if there:
            yield name


def on_limit(j, a):
    ends = (j.size - j.under, j.size + j.over, j.size + j.over_limit)
    tubes = [b for (n, _), b in a.bores.items() if KIND.get(n) == "tube"]
    return any(abs(d - end) < 1e-9 for b in tubes for d in (b["dmin"], b["dmax"]) for end in ends)


class Tool:
    """holes_tool.c: jobs are handed over many at a time, so that neither process waits for the other each time."""

    def __init__(self, path):
        self.process = subprocess.Popen([path], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        fcntl.fcntl(self.process.stdout, fcntl.F_SETPIPE_SZ, 1 << 20)

    def ask(self, jobs):
        """jobs: (path, threads, tables) each."""
        lines = "".join(f"{threads}{'+' if tables else ' '}{job}\n" for job, threads, tables in jobs)
        self.process.stdin.write(lines.encode())
        self.process.stdin.flush()

    def answer(self):
        """("", texts) of the next job, or (message, ())."""
        head = self.process.stdout.readline().split()
        if len(head) != 4:
            sys.exit(f"the tool ended with status {self.process.wait()}")
        texts = [self.process.stdout.read(int(n)).decode() for n in head[1:]]
        return ("", texts) if head[0] == b"0" else (texts[0], ())

    def end(self):
        self.process.stdin.close()
        self.process.wait()


def program_differences(program, folder, threads, verdict, texts):
    done = subprocess.run([program, "inspect", f"{folder}/job.ini", "-o", f"{folder}/report", "-q", "--threads",
                           str(threads)], capture_output=True, text=True)
    if done.returncode not in (0, 1):
        return [f"exit {done.returncode}: {done.stderr.strip()}"]
    found = []
    if done.returncode != (0 if verdict in ("conforms", "not judged") else 1):
        found.append(f"exit status {done.returncode} for {verdict}")
    for name, text in zip(("holes.csv", "ligaments.csv"), texts[1:]):
        path = f"{folder}/report/{name}"
        written = open(path, newline="").read() if os.path.exists(path) else ""
        if written != text:
            found.append(f"{name} of the program is not that of the tool")
    results = json.load(open(f"{folder}/report/results.json"))
    by_tool = json.loads(texts[0])
    if results["holes"] != by_tool["holes"] or results["verdict"] != by_tool["verdict"]:
        found.append("results.json of the program is not that of the tool")
    return found


class Trial:
    """One job: its files, what the judge says, what the program says."""

    def __init__(self, args, seed, folder):
        self.seed, self.folder = seed, folder
        self.tables, self.program = seed % args.tables_every == 0, seed % args.program_every == 0
        self.threads = 1 + (seed % 3 if self.program else 0)
        self.job = random_job(np.random.default_rng(seed))
        os.makedirs(folder, exist_ok=True)
        for name in os.listdir(folder):
            os.remove(f"{folder}/{name}")
        write_job(self.job, folder)

    def question(self):
        return f"{self.folder}/job.ini", self.threads, self.tables or self.program


def check(args, trial, refused, texts):
    """(lines about differences, features)."""
    if refused:
        return [refused], []
    j, got = trial.job, json.loads(texts[0])
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
    if trial.tables:
        found += list(table_differences(j, a, *texts[1:]))
    if trial.program and not args.planted:
        found += program_differences(args.program, trial.folder, trial.threads, got["verdict"], texts)
        shutil.rmtree(f"{trial.folder}/report", ignore_errors=True)
    names = list(features(j, a)) + (["tables compared row by row"] if trial.tables else [])
    return found, names + (["through the program itself"] if trial.program else [])


def parse():
    p = argparse.ArgumentParser()
    p.add_argument("program")
    p.add_argument("tool")
    p.add_argument("jobs", type=int, nargs="?", default=60)
    p.add_argument("--first", type=int, default=1)
    p.add_argument("--tables-every", type=int, default=1)
    p.add_argument("--program-every", type=int, default=1)
    p.add_argument("--planted", choices=[*planted.MISTAKES, "each"])
    p.add_argument("--until-noticed", action="store_true")
    p.add_argument("--state")
    return p.parse_args()


def save(path, state):
    with open(f"{path}.new", "w") as f:
        json.dump(state, f, indent=1)
    os.replace(f"{path}.new", path)


def count(args, state, trial, found, names):
    state["done"] += 1
    for name in names:
        state["features"][name] = state["features"].get(name, 0) + 1
    if found:
        state["differ"].append(trial.seed)
        if not args.planted:
            print("\n  ".join([f"seed {trial.seed}:", *found[:8]]), flush=True)


def run(args, state, folder):
    at_once = 5 if args.until_noticed else 25
    tool, began = Tool(args.tool), time.process_time()
    for first in range(args.first + state["done"], args.first + args.jobs, at_once):
        trials = [Trial(args, seed, f"{folder}/{seed - first}")
                  for seed in range(first, min(first + at_once, args.first + args.jobs))]
        tool.ask([t.question() for t in trials])
        for trial in trials:
            count(args, state, trial, *check(args, trial, *tool.answer()))
        if args.state and state["done"] % 500 == 0:
            save(args.state, state)
            print(f"{state['done']} of {args.jobs}, {len(state['differ'])} differ; "
                  f"{time.process_time() - began:.0f} s of this process", flush=True)
        if args.until_noticed and state["differ"]:
            break
    tool.end()


def each_planted(args):
    """Every mistake in a run of its own; one that nobody notices is a failure of this program."""
    unnoticed = 0
    for name in planted.MISTAKES:
        done = subprocess.run([sys.executable, __file__, args.program, args.tool, str(args.jobs), "--first",
                               str(args.first), "--planted", name] + ["--until-noticed"] * args.until_noticed,
                              capture_output=True, text=True)
        print((done.stdout.splitlines() or [done.stderr])[-1], flush=True)
        unnoticed += done.returncode != 1 or "planted" not in done.stdout
    print(f"{len(planted.MISTAKES)} mistakes planted in the judge, {unnoticed} unnoticed")
    sys.exit(1 if unnoticed else 0)


def main():
    args = parse()
    if args.planted == "each":
        each_planted(args)
    state = {"first": args.first, "done": 0, "differ": [], "features": {}}
    if args.state and os.path.exists(args.state):
        state = json.load(open(args.state))
        if state["first"] != args.first:
            sys.exit(f"{args.state} is of a run from seed {state['first']}; give another file")
    if args.planted:
        planted.plant(args.planted)
    folder = tempfile.mkdtemp(prefix="plateproof-peer-", dir="/dev/shm" if os.path.isdir("/dev/shm") else None)
    try:
        run(args, state, folder)
    finally:
        shutil.rmtree(folder)
        if args.state:
            save(args.state, state)
    if args.state or args.jobs >= 1000:
        for name, count in sorted(state["features"].items()):
            print(f"{count:7d}  {name}")
    print(f"{state['done']} random jobs from seed {args.first}, {len(state['differ'])} differ"
          + (f" with the mistake planted: {args.planted}" if args.planted else ""))
    sys.exit(1 if state["differ"] else 0)


main()
