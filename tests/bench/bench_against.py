#!/usr/bin/python3
"""The program against an earlier one, whole commands in pairs on the same files.

    bench_against.py BUILD EARLIER_BUILD [full|small]

Each round runs both programs one after the other, in turns the one and the other first. Printed for each command and
size: medians of processor time, and the ratio earlier / now with an interval for the median ratio that holds at 95 %
or more whatever the noise looks like (order statistics of the pairs), and the larger of the two peaks of memory.
"""
import math
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from bench_jobs import FLATNESS, HOLDDOWN, PITCH, acceptance

ROOT = Path(__file__).resolve().parent.parent.parent
ROUNDS = {"full": 9, "small": 6}
POINTS = {"full": (400, 100000, 1000000), "small": (400, 3000)}
HOLES = {"full": (4000, 30000, 1000000), "small": (300, 1000)}
PRESSED = {"full": (2500, 10000), "small": (300,)}


def survey(folder, count):
    """Points on a hollow disc of 3200 mm with a wave in it"""
    chance = random.Random(20261120)
    with open(folder / "survey.csv", "w", encoding="ascii") as out:
        out.write("x,y,z\n")
        for k in range(count):
            r, angle = 1590 * math.sqrt((k + 0.5) / count), k * 2.399963229728653
            x, y = r * math.cos(angle), r * math.sin(angle)
            z = 2.6 * (x * x + 0.8 * y * y) / 2.56e6 + 0.2 * math.sin(x / 300) * math.cos(y / 400)
            out.write(f"{x:.4f},{y:.4f},{z + chance.gauss(0, 0.01):.5f}\n")


def disc_of_holes(folder, count):
    """The innermost `count` holes of a triangular pattern that fills a disc of 3000 mm; its pitch"""
    pitch = math.sqrt(math.pi * 1450**2 / count * 2 / math.sqrt(3))
    steps, places = int(1500 / pitch) + 2, []
    for j in range(-2 * steps, 2 * steps + 1):
        for i in range(-steps, steps + 1):
            places.append(((i + j % 2 / 2) * pitch, j * pitch * math.sqrt(3) / 2))
    places.sort(key=lambda p: (math.hypot(*p), p))
    with open(folder / "nominal.csv", "w", encoding="ascii") as out:
        out.write("hole,x,y\n")
        for k, (x, y) in enumerate(places[:count]):
            out.write(f"H{k + 1},{x:.4f},{y:.4f}\n")
    return pitch


def square_of_holes(folder, count):
    chance, side = random.Random(20261120), math.ceil(math.sqrt(count))
    extent = 1.1 * side * PITCH + 200
    with open(folder / "nominal.csv", "w", encoding="ascii") as drawn, \
            open(folder / "measured.csv", "w", encoding="ascii") as found:
        drawn.write("hole,x,y\n")
        found.write("hole,x,y,diameter\n")
        for k in range(count):
            row, column = divmod(k, side)
            x, y = (column - side / 2 + row % 2 / 2) * PITCH, (row - side / 2) * PITCH * math.sqrt(3) / 2
            drawn.write(f"R{row}C{column},{x:.6f},{y:.6f}\n")
            found.write(f"R{row}C{column},{x + chance.gauss(0, .03):.6f},{y + chance.gauss(0, .03):.6f},"
                        f"{25.69 + chance.gauss(0, .01):.6f}\n")
    return extent


def flatness_job(folder, count):
    survey(folder, count)
    (folder / "job.ini").write_text(FLATNESS)


def holddown_job(folder, count):
    survey(folder, 2000)
    (folder / "job.ini").write_text(HOLDDOWN.format(pitch=round(disc_of_holes(folder, count), 3)))


def holes_job(folder, count):
    (folder / "job.ini").write_text(acceptance(square_of_holes(folder, count)))


def demo_job(folder, _):
    for file in (ROOT / "data" / "demo").iterdir():
        shutil.copy(file, folder)
    shutil.copy(folder / "plate.ini", folder / "job.ini")


def seconds(program, command, folder):
    """Processor seconds and MB of one run"""
    report = folder / "report"
    shutil.rmtree(report, ignore_errors=True)
    child = subprocess.Popen([program, command, folder / "job.ini", "-q", "-o", report],
                             stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = child.stderr.read().decode()
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in (0, 1):
        raise RuntimeError(said.strip())
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def interval(ratios):
    """Of the median, from the k-th smallest to the k-th largest: the largest k that still gives 95 %"""
    n, ordered, tail, k = len(ratios), sorted(ratios), 0.0, 0
    for i in range(n // 2):
        tail += math.comb(n, i) / 2**n
        if tail > 0.025:
            break
        k = i
    return ordered[k], ordered[n - 1 - k]


def compare(now, earlier, command, make, count, rounds):
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        make(folder, count)
        what = f"{command:9} {count or 'demo':>8}"
        taken, peak = {now: [], earlier: []}, 0.0
        for k in range(rounds):
            for program in ((now, earlier) if k % 2 else (earlier, now)):
                try:
                    used, megabytes = seconds(program, command, folder)
                except RuntimeError as refused:
                    which = "now" if program == now else "the earlier one"
                    print(f"{what}  {which} refuses: {refused}", flush=True)
                    return
                taken[program].append(used)
                peak = max(peak, megabytes)
    ratios = [a / b for a, b in zip(taken[earlier], taken[now])]
    low, high = interval(ratios)
    print(f"{what} {statistics.median(taken[earlier]):9.3f} s {statistics.median(taken[now]):9.3f} s  "
          f"ratio {statistics.median(ratios):5.2f} ({low:.2f} to {high:.2f})  {peak:5.0f} MB", flush=True)


def main():
    now, earlier = (str(Path(folder) / "plateproof") for folder in sys.argv[1:3])
    size = sys.argv[3] if len(sys.argv) > 3 else "full"
    rounds = ROUNDS[size]
    print(f"processor time, medians of {rounds} pairs; ratio earlier / now, above 1: quicker now")
    print(f"{'command':9} {'size':>8} {'earlier':>11} {'now':>11}")
    for command, make, sizes in (("flatness", flatness_job, POINTS[size]), ("holddown", holddown_job, PRESSED[size]),
                                 ("holes", holes_job, HOLES[size]), ("inspect", demo_job, (0,))):
        for count in sizes:
            compare(now, earlier, command, make, count, rounds)


main()
