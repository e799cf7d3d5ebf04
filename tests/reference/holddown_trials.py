#!/usr/bin/env python3
"""Random hold-down jobs, tried from outside by what must hold whatever the method.

    holddown_trials.py PROGRAM [JOBS [FIRST]]

For each job, a warped rectangle on a table or on pins:
  mirrored   survey, holes and supports with x (then y) changed in sign: the same gaps and forces. A plate whose centre of
             gravity lies on the line of two contacts (two opposite corners, two pins) can rest either way; where the
             gaps as laid say that its mirror image rests the other way, that is counted and not compared; one of the two studies must say that
             the plate lies two ways
  force      the foot presses harder: no hole's gap under the foot grows, none more has to be held down
  closing    a foot with the force_to_close of a hole brings that hole to the gap limit, no less and no more
  limit      a wider gap limit: no force to close grows
  thrust     the gaps under the foot are the foot's own; the spring-back grows with the drill's thrust
"""
import csv
import json
import random
import subprocess
import sys
import tempfile
from pathlib import Path

WIDTH, HEIGHT = 1200.0, 800.0


class Job:
    def __init__(self, seed):
        r = random.Random(seed)
        self.thickness = r.choice([15, 20, 25, 30])
        self.force, self.thrust, self.limit = r.uniform(1500, 9000), r.uniform(200, 1200), r.uniform(0.05, 0.4)
        self.kind = r.choice(["table", "table", "pins"])
        a, b, c = r.uniform(-1.5, 1.5), r.uniform(-1.0, 1.0), r.uniform(-1.0, 1.0)
        d, e = r.uniform(-0.5, 0.5), r.uniform(-0.5, 0.5)

        def z(x, y):
            u, v = x / (WIDTH / 2), y / (HEIGHT / 2)
            return a * u * u + b * v * v + c * u * v + d * u ** 3 + e * v ** 3
        self.survey = [(x, y, round(z(x, y), 5)) for x in range(-580, 581, 58) for y in range(-380, 381, 76)]
        self.holes = [(f"H{i}", r.uniform(-520, 520), r.uniform(-330, 330)) for i in range(12)]
        self.pins = [(x, y) for x in (-500, -180, 160, 490) for y in (-320, 25, 310)]

    def mirrored(self, sx, sy):
        other = Job.__new__(Job)
        other.__dict__.update(self.__dict__)
        other.survey = [(sx * x, sy * y, z) for x, y, z in self.survey]
        other.holes = [(n, sx * x, sy * y) for n, x, y in self.holes]
        other.pins = [(sx * x, sy * y) for x, y in self.pins]
        return other

    def changed(self, **changes):
        other = Job.__new__(Job)
        other.__dict__.update(self.__dict__)
        other.__dict__.update(changes)
        return other

    def run(self, program, folder):
        (folder / "survey.csv").write_text("x,y,z\n" + "".join(f"{x},{y},{z:.6f}\n" for x, y, z in self.survey))
        (folder / "nominal.csv").write_text("hole,x,y\n" + "".join(f"{n},{x:.6f},{y:.6f}\n" for n, x, y in self.holes))
        (folder / "pins.csv").write_text("x,y\n" + "".join(f"{x},{y}\n" for x, y in self.pins))
        support = "kind = table\n" if self.kind == "table" else "kind = pins\nfile = pins.csv\n"
        (folder / "job.ini").write_text(
            f"[plate]\noutline = rectangle\nwidth = {WIDTH}\nheight = {HEIGHT}\nthickness = {self.thickness}\n"
            "[survey]\nfile = survey.csv\nuncertainty = 0.002\nlaid = on-supports\n[support]\n" + support +
            f"[foot]\nforce = {self.force:.6f} N\nouter_diameter = 100\ninner_diameter = 60\nthrust = {self.thrust:.6f} N\n"
            f"[holddown]\ngap_limit = {self.limit:.6f}\nforce_cap = 500 kN\n[holes]\nnominal = nominal.csv\npitch = 60\n")
        done = subprocess.run([program, "holddown", "job.ini", "-q", "-o", "report"], cwd=folder, capture_output=True, text=True)
        if done.returncode not in (0, 1):
            raise RuntimeError(done.stderr.strip())
        with open(folder / "report" / "holddown.csv", newline="", encoding="utf-8") as file:
            rows = {row["hole"]: row for row in csv.DictReader(file)}
        study = json.loads((folder / "report" / "results.json").read_text(encoding="utf-8"))["holddown"]
        self.spring_back = study["largest_spring_back"]
        self.lies_two_ways = study.get("lies_two_ways", False)
        for row in rows.values():
            for key in ("gap", "gap_under_foot", "force_to_close"):
                row[key] = float(row[key]) if row[key] else None
        return rows


def differ(a, b, tolerance):
    if a is None or b is None:
        return a is not b
    return abs(a - b) > tolerance


def try_job(program, seed, worst):
    job, wrong = Job(seed), []
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        base = job.run(program, folder)
        for sx, sy in ((-1, 1), (1, -1)):
            image = job.mirrored(sx, sy)
            other = image.run(program, folder)
            if max(abs(row["gap"] - other[name]["gap"]) for name, row in base.items()) > 0.01:
                worst["rest the other way"] += 1
                if not (job.lies_two_ways or image.lies_two_ways):
                    wrong.append(f"mirrored {sx} {sy}: rests another way, and neither study says that it may")
                continue
            for name, row in base.items():
                gap = abs(row["gap_under_foot"] - other[name]["gap_under_foot"])
                worst["mirrored"] = max(worst["mirrored"], gap)
                force = row["force_to_close"] or 0
                if gap > 0.002 or differ(row["force_to_close"], other[name]["force_to_close"], 20 + 0.01 * force):
                    wrong.append(f"mirrored {sx} {sy}: {name} {row} {other[name]}")
        harder = job.changed(force=1.4 * job.force).run(program, folder)
        for name, row in base.items():
            grown = harder[name]["gap_under_foot"] - row["gap_under_foot"]
            worst["force"] = max(worst["force"], grown)
            if grown > 0.0005:
                wrong.append(f"force: {name} {row['gap_under_foot']} grows to {harder[name]['gap_under_foot']}")
        wider = job.changed(limit=1.5 * job.limit).run(program, folder)
        for name, row in base.items():
            more = (wider[name]["force_to_close"] or 0) - (row["force_to_close"] or 5e5)
            if more > 1 + 1e-3 * (row["force_to_close"] or 0):
                wrong.append(f"limit: {name} needs {row['force_to_close']}, with a wider limit {wider[name]['force_to_close']}")
        twice = job.changed(thrust=2 * job.thrust)
        pushed = twice.run(program, folder)
        if not twice.spring_back >= job.spring_back:
            wrong.append(f"thrust: the spring-back falls from {job.spring_back} to {twice.spring_back}")
        for name, row in base.items():
            change = pushed[name]["gap_under_foot"] - row["gap_under_foot"]
            worst["thrust"] = max(worst["thrust"], abs(change))
            if abs(change) > 1e-6:
                wrong.append(f"thrust: {name} changes its gap by {change}")
        needy = [n for n, row in base.items() if row["force_to_close"] and row["force_to_close"] > 1.05 * job.force]
        if needy:
            name = max(needy, key=lambda n: base[n]["force_to_close"])
            row = job.changed(force=base[name]["force_to_close"]).run(program, folder)[name]
            worst["closing"] = max(worst["closing"], abs(row["gap_under_foot"] - job.limit))
            if abs(row["gap_under_foot"] - job.limit) > 0.003:
                wrong.append(f"closing: {name} comes to {row['gap_under_foot']}, not to the limit {job.limit}")
    return wrong


def main():
    program, count = str(Path(sys.argv[1]).resolve()), int(sys.argv[2]) if len(sys.argv) > 2 else 2
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    worst = {k: 0.0 for k in ("mirrored", "force", "thrust", "closing", "rest the other way")}
    failed = 0
    for seed in range(first, first + count):
        wrong = try_job(program, seed, worst)
        failed += bool(wrong)
        for line in wrong[:4]:
            print(f"job {seed}: {line}", flush=True)
    ways = int(worst.pop("rest the other way"))
    print(f"{count} jobs, {failed} wrong; {ways} of {2 * count} mirror images rest the other way; worst, mm: "
          + ", ".join(f"{k} {v:.5f}" for k, v in worst.items()))
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
