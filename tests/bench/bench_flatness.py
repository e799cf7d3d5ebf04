"""Flatness of large surveys: plateproof against pandas, Qhull and HiGHS, in paired runs.

    bench_flatness.py BUILD_FOLDER [--sizes 100000,1000000,10000000] [--rounds 5] [--threads 2]

Each round runs, one after the other, on the same file:
  peer       pandas reads, an eigenvalue problem gives the least-squares plane, Qhull the convex hull,
             HiGHS (scipy linprog) the zone of its corners, again in the turned frame; imports and
             start-up are not counted
  zone       plateproof's reader, least-squares plane and proven minimum zone; the whole process
  flatness   `plateproof flatness` with surface, areas, two straightedges and the report folder; the
             whole process
and the medians of seconds, of peak memory and of the paired ratios are printed. Without pandas or
scipy only plateproof's own figures are.
"""
import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

import growth
from bench_jobs import FLATNESS

AGREE_MM = 1e-9



def peer(path):
    """The chain, timed inside its own process after the imports."""
    import numpy as np
    import pandas
    from scipy.optimize import linprog
    from scipy.spatial import ConvexHull

    start = time.perf_counter()
    points = pandas.read_csv(path).to_numpy(dtype=float)
    points -= points.mean(axis=0)
    frame = np.linalg.eigh(points.T @ points)[1]
    corners = points[ConvexHull(points).vertices]
    for _ in range(20):
        local = corners @ frame  # normal first
        height, size = local[:, 0], np.abs(local).max()
        u, v = local[:, 1] / size, local[:, 2] / size
        one = np.ones_like(u)
        scale = np.abs(height).max()
        rows = np.vstack([np.column_stack([-u, -v, -one, -one]), np.column_stack([u, v, one, -one])])
        found = linprog([0, 0, 0, 1], A_ub=rows, b_ub=np.concatenate([-height, height]) / scale,
                        bounds=[(None, None)] * 4, method="highs")
        a, b = found.x[:2] * scale / size
        normal = frame @ np.array([1, -a, -b])
        normal /= np.linalg.norm(normal)
        first = np.cross(normal, frame[:, 1])
        first /= np.linalg.norm(first)
        frame = np.column_stack([normal, np.cross(first, normal), first])
        if np.hypot(a, b) < 1e-12:
            break
    along = corners @ frame[:, 0]
    seconds = time.perf_counter() - start
    print(json.dumps({"seconds": seconds, "flatness": float(along.max() - along.min())}))


def run(command):
    """Standard output, wall seconds and peak memory (MB) of one process."""
    with tempfile.TemporaryFile() as out:
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=out, stderr=subprocess.PIPE)
        message = process.stderr.read()
        _, status, usage = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - start
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode not in (0, 1):
            sys.exit(f"{' '.join(command)}: {message.decode()}")
        out.seek(0)
        return out.read().decode(), seconds, usage.ru_maxrss / 1024


def peer_is_there():
    return subprocess.run([sys.executable, "-c", "import pandas, scipy.spatial, scipy.optimize"],
                          capture_output=True, check=False).returncode == 0


def one_round(build, folder, threads, with_peer, seen):
    survey = os.path.join(folder, "survey.csv")
    if with_peer:
        text, _, memory = run([sys.executable, __file__, "--peer", survey])
        answer = json.loads(text)
        seen["peer"].append((answer["seconds"], memory))
        seen["peer_flatness"] = answer["flatness"]
    text, seconds, memory = run([os.path.join(build, "tests/bench/bench_file_to_zone"), survey,
                                 str(threads)])
    answer = json.loads(text)
    seen["steps"].append(answer)
    seen["zone"].append((seconds, memory))
    report = os.path.join(folder, "report")
    shutil.rmtree(report, ignore_errors=True)
    _, seconds, memory = run([os.path.join(build, "plateproof"), "flatness",
                              os.path.join(folder, "job.ini"), "-o", report, "-q", "--threads",
                              str(threads)])
    seen["flatness"].append((seconds, memory))
    if with_peer and abs(seen["peer_flatness"] - answer["flatness"]) > AGREE_MM:
        sys.exit(f"the two disagree: {seen['peer_flatness']!r} and {answer['flatness']!r}")


def median(values):
    return statistics.median(values)


def show(count, seen):
    steps = {k: median([s[k] for s in seen["steps"]]) for k in ("read", "least_squares", "zone")}
    print(f"{count} points, flatness {seen['steps'][0]['flatness']:.10f} mm, "
          f"exact {seen['steps'][0]['exact']}; median read {1e3 * steps['read']:.1f} ms, "
          f"least squares {1e3 * steps['least_squares']:.1f} ms, zone {1e3 * steps['zone']:.1f} ms")
    for name in ("peer", "zone", "flatness"):
        if not seen[name]:
            continue
        line = (f"  {name:9}{median([s for s, _ in seen[name]]):9.4f} s "
                f"{median([m for _, m in seen[name]]):8.0f} MB")
        if name != "peer" and seen["peer"]:
            ratios = [p[0] / s[0] for p, s in zip(seen["peer"], seen[name])]
            line += (f"   {median(ratios):6.1f} times faster (rounds {min(ratios):.1f} to "
                     f"{max(ratios):.1f})")
        print(line, flush=True)


def main():
    if sys.argv[1:2] == ["--peer"]:
        return peer(sys.argv[2])
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("build")
    parser.add_argument("--sizes", default="100000,1000000,10000000")
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--threads", type=int, default=2)
    options = parser.parse_args()
    with_peer = peer_is_there()
    if not with_peer:
        print("pandas or scipy is missing: plateproof's own figures only")
    medians = {"zone": [], "flatness": []}
    for count in map(int, options.sizes.split(",")):
        with tempfile.TemporaryDirectory() as folder:
            subprocess.run([os.path.join(options.build, "tests/bench/bench_file_to_zone"), "make",
                            str(count), os.path.join(folder, "survey.csv")], check=True)
            with open(os.path.join(folder, "job.ini"), "w", encoding="utf-8") as job:
                job.write(FLATNESS)
            seen = {"peer": [], "zone": [], "flatness": [], "steps": []}
            for _ in range(options.rounds):
                one_round(options.build, folder, options.threads, with_peer, seen)
            show(count, seen)
            for name in medians:
                medians[name].append(median([s for s, _ in seen[name]]))
    sizes = [int(count) for count in options.sizes.split(",")]
    for name, values in medians.items():
        growth.say(name, sizes, values)
    return None


main()
