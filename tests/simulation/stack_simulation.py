#!/usr/bin/env python3
"""Random stacks: does the order found beat the order as listed, and a random one?

    stack_simulation.py PROGRAM [STACKS [LAYERS [FIRST]]]       default 30 stacks of 5 layers, from seed 1

Each stack is made by scripts/make_stack.py from its seed; 60 holes, 12 turns and either face for every
layer. Beside the order as listed and the one found stand five random arrangements, of which the median
counts. Prints the table of docs/theory/stack.md and the means."""
import json
import random
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
RANDOM = 5
TURNS = 12


def study(program, job):
    out = job.parent / (job.stem + "-out")
    done = subprocess.run([program, "stack", "-q", "-o", out, job], capture_output=True, text=True)
    if done.returncode > 1:
        sys.exit(f"{job}: {done.stderr}")
    return json.loads((out / "results.json").read_text())["stack"]


def shuffled(rng, text, names, number, folder):
    """The same job with a random order, faces and turns, nothing searched."""
    head = text.split("\n[layer ")[0].replace("search = order, face, turn", "search = none")
    order = rng.sample(names, len(names))
    layers = "".join(f"\n[layer {n}]\nsurvey = {n.lower()}.csv\nface = {rng.choice(['up', 'over'])}\n"
                     f"turns = {360 * rng.randrange(TURNS) / TURNS:g}\n" for n in order)
    path = folder / f"random{number}.ini"
    path.write_text(head + layers)
    return path


def figures(arranged):
    force = arranged["largest_force_to_close"]
    return (float("inf") if force is None else force / 1000), arranged["largest_gap_under_foot"]


def show(force):
    return "above 100" if force == float("inf") else f"{force:.2f}"


def main():
    program, stacks, layers = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 30, int(sys.argv[3]) if len(sys.argv) > 3 else 5
    rows, beats = [], [0, 0]
    print("| seed | as listed, kN / mm | random (median of 5) | found |\n| --- | --- | --- | --- |")
    first = int(sys.argv[4]) if len(sys.argv) > 4 else 1
    for seed in range(first, first + stacks):
        with tempfile.TemporaryDirectory() as folder:
            folder = Path(folder)
            subprocess.run([sys.executable, ROOT / "scripts/make_stack.py", "random", folder, str(seed), "--layers", str(layers),
                            "--holes", "60", "--turns", str(TURNS)], check=True)
            job, rng = folder / "stack.ini", random.Random(seed)
            names = [chr(ord("A") + k) for k in range(layers)]
            s = study(program, job)
            listed, found = figures(s["listed"]), figures(s["found"])
            others = [figures(study(program, shuffled(rng, job.read_text(), names, k, folder))["listed"]) for k in range(RANDOM)]
            middle = tuple(statistics.median(o[i] for o in others) for i in (0, 1))
            rows.append((listed, middle, found))
            beats[0] += found < listed
            beats[1] += found < middle
            print(f"| {seed} | " + " | ".join(f"{show(f)} / {g:.3f}" for f, g in rows[-1]) + " |", flush=True)
    print("| median | " + " | ".join(f"{show(statistics.median(r[i][0] for r in rows))} / {statistics.median(r[i][1] for r in rows):.3f}"
                                     for i in range(3)) + " |")
    print(f"\nfound beats the order as listed in {beats[0]} of {stacks}, the median random one in {beats[1]} of {stacks}")


if __name__ == "__main__":
    main()
