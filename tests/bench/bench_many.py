#!/usr/bin/python3
"""Many plates: one call on one and on two processors, beside a process for each plate by GNU parallel (or xargs).

    bench_many.py BUILD PLATES[,PLATES...] [HOLES]      (4000 holes a plate)

Whole reports of hole acceptance, each plate with its own lists. Wall and processor seconds and the peak memory of the
largest process; the ratio of walls that the second processor gives, 2 where it is used fully.
"""
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import growth
from bench_jobs import PITCH, acceptance



def write_plates(folder, plates, holes):
    side = int(holes ** 0.5 + 0.999)
    places = []
    for k in range(holes):
        row, column = divmod(k, side)
        places.append((f"R{row}C{column}", (column - side / 2 + row % 2 / 2) * PITCH,
                       (row - side / 2) * PITCH * 3 ** 0.5 / 2))
    (folder / "nominal.csv").write_text("hole,x,y\n" + "".join(f"{n},{x:.6f},{y:.6f}\n" for n, x, y in places))
    for plate in range(plates):
        chance = random.Random(plate)
        (folder / f"measured-{plate}.csv").write_text("hole,x,y,diameter\n" + "".join(
            f"{n},{x + chance.gauss(0, .03):.6f},{y + chance.gauss(0, .03):.6f},{25.69 + chance.gauss(0, .01):.6f}\n"
            for n, x, y in places))
        (folder / f"plate-{plate}.ini").write_text(acceptance(1.1 * side * PITCH + 200, f"measured-{plate}.csv"))
    return [f"plate-{plate}.ini" for plate in range(plates)]


def timed(folder, command, given=None):
    """Wall seconds, processor seconds, MB of the largest process"""
    shutil.rmtree(folder / "out", ignore_errors=True)
    (folder / "out").mkdir()
    before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run(command, cwd=folder, input=given, text=True, capture_output=True, check=False)
    wall, after = time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_CHILDREN)
    if len(list((folder / "out").glob("*report*"))) == 0:
        sys.exit(f"{command[0]} failed: {done.stderr[-500:]}")
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, after.ru_maxrss / 1024


def main():
    program = str(Path(sys.argv[1], "plateproof").resolve())
    counts, holes = [int(c) for c in sys.argv[2].split(",")], int(sys.argv[3]) if len(sys.argv) > 3 else 4000
    each = f"{program} inspect -q --threads 1 -o out/{{}}-report {{}}"
    walls = []
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        jobs = write_plates(folder, max(counts), holes)
        for count in counts:
            some = jobs[:count]
            call = [program, "inspect", "-q", "-o", "out"]
            spread = ["parallel", "-j2", each] if shutil.which("parallel") else ["xargs", "-P2", "-I{}", *each.split()]
            found = {"one call, 1 processor": timed(folder, [*call, "--threads", "1", *some]),
                     "one call, 2 processors": timed(folder, [*call, "--threads", "2", *some]),
                     f"{spread[0]}, 2 processes": timed(folder, spread, "\n".join(some) + "\n")}
            print(f"{count} plates of {holes} holes")
            for name, (wall, used, megabytes) in found.items():
                print(f"  {name:24} wall {wall:7.2f} s   processor {used:7.2f} s   largest so far {megabytes:4.0f} MB")
            one, two = (found[f"one call, {n}"][0] for n in ("1 processor", "2 processors"))
            print(f"  the second processor: {one / two:.2f} times as quick", flush=True)
            walls.append(two)
    growth.say("one call on 2 processors", counts, walls)


if __name__ == "__main__":
    os.environ.setdefault("LC_ALL", "C.UTF-8")
    main()
