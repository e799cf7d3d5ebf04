#!/usr/bin/env python3
"""The reference sets of data/reference/bundle against the program.

    cases.py PROGRAM FOLDER

Values stand in expected.json. Where the set has play, the moves reported are applied to the true
discs, and the margins that follow are worked out by scipy (oracle.py).
"""
import json
import math
import re
import subprocess
import sys
from pathlib import Path

import oracle


def look_up(where, path):
    """"bundle.each[tube=T1].margin"."""
    for name, key, wanted in re.findall(r"([^.\[\]]+)(?:\[([^=\]]+)=([^\]]*)\])?", path):
        where = where[name]
        if key:
            where = next(item for item in where if str(item[key]) == wanted)
    return where


def differs(check, got):
    if "tol" not in check:
        return got != check["value"]
    return not (isinstance(got, (int, float)) and abs(got - check["value"]) <= check["tol"])


def check_moves(claims, said, truth):
    moves = {p["name"]: p["move"] for p in said["plates"]}
    for plate in truth["plates"]:
        m = moves[plate["name"]]
        if math.hypot(m["dx"], m["dy"]) > plate["play"] + 1e-6 or abs(m["angle_deg"]) > plate["angle_deg"] + 1e-7:
            yield f"{plate['name']} is moved beyond its play: {m}"
    worst = math.inf
    for k, tube in enumerate(truth["tubes"]):
        discs = []
        for i, z in enumerate(truth["z"]):
            if truth["r"][k][i] is None:
                continue
            plate = truth["plates"][i // 2]
            m = moves[plate["name"]]
            play = {"x": plate["origin"][0], "y": plate["origin"][1]}
            discs.append(oracle.moved((z, *truth["c"][k][i], truth["r"][k][i]), play,
                                      (m["dx"], m["dy"], math.radians(m["angle_deg"]))))
        radius, bound = oracle.line(discs)
        margin = radius + bound - truth["odmax"]
        worst = min(worst, margin)
        told = look_up(said, f"each[tube={tube}].margin")
        if abs(told - margin) > 1e-6:
            yield f"{tube}: margin {told} reported, {margin} with the reported moves"
    if worst < claims["worst_at_least"]:
        yield f"worst margin with the reported moves {worst}, possible {claims['worst_at_least']}"
    if said["placed"]["bound"] < claims["bound_at_least"]:
        yield f"the bound {said['placed']['bound']} is below what can be reached"


def check_case(program, folder):
    wanted = json.loads((folder / "expected.json").read_text())
    done = subprocess.run([program, "bundle", "--json", folder / "set.ini"], capture_output=True, text=True)
    if done.returncode != wanted["exit"]:
        yield f"exit {done.returncode}, not {wanted['exit']}: {done.stderr[-300:]}"
    answer = json.loads(done.stdout)
    for check in wanted["checks"]:
        got = look_up(answer, check["path"])
        if differs(check, got):
            yield f"{check['path']}: {got!r}, not {check['value']!r} +- {check.get('tol')}"
    if wanted["claims"].get("moves"):
        yield from check_moves(wanted["claims"], answer["bundle"], json.loads((folder / "truth.json").read_text()))


def main():
    program, root = sys.argv[1], Path(sys.argv[2])
    wrong = count = 0
    for folder in sorted(p for p in root.iterdir() if p.is_dir()):
        found = list(check_case(program, folder))
        count += len(json.loads((folder / "expected.json").read_text())["checks"])
        wrong += len(found)
        for line in found[:20]:
            print(f"{folder.name}: {line}")
    print(f"{count} values, {wrong} wrong")
    sys.exit(1 if wrong or not count else 0)


main()
