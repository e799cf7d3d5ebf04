"""The report folder: seconds of each file over several sizes of plate, and pandas writing the two large
tables of the same rows and columns, in one run.

    bench_report.py BUILD_FOLDER [RINGS,RINGS,... [ROUNDS]]

The answer reported is made up in memory (no stage runs), so this is writing alone: pages, tables,
flush to the disk, rename.
"""

import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import growth

RINGS = "36,57,100,577"  # 3997, 9919, 30301 and 1000519 tube holes


def ours(build, rings, rounds, folder):
    done = subprocess.run(
        [f"{build}/tests/bench/bench_report", rings, folder, str(rounds)],
        check=True,
        capture_output=True,
        text=True,
    )
    return json.loads(done.stdout)


def peer(folder, rounds):
    """pandas: read our tables back once, then time to_csv of the same frames."""
    import pandas as pd

    tables = [pd.read_csv(Path(folder) / name) for name in ("holes.csv", "ligaments.csv")]
    seconds = []
    for _ in range(rounds):
        began = time.perf_counter()
        for i, table in enumerate(tables):
            table.to_csv(Path(folder) / f"peer-{i}.csv", index=False, float_format="%.15g")
        seconds.append(time.perf_counter() - began)
    return statistics.median(seconds)


def main():
    build = sys.argv[1]
    sizes = sys.argv[2] if len(sys.argv) > 2 else RINGS
    rounds = int(sys.argv[3]) if len(sys.argv) > 3 else 5
    print(f"seconds, medians of {rounds} rounds")
    print(f"{'holes':>9} {'json':>7} {'html':>7} {'pdf':>7} {'qif':>7} {'whole qif':>9} {'holes.csv':>10} {'ligaments.csv':>14}"
          f" {'folder':>8} {'with qif.gz':>11} {'peak MB':>8} {'pandas, two tables':>19} {'ratio':>6}")
    counts, seconds = [], []
    for rings in sizes.split(","):
        with tempfile.TemporaryDirectory() as place:
            folder = f"{place}/report"
            f = ours(build, rings, rounds, folder)
            try:
                reference = peer(folder, rounds)
            except ImportError:
                print("pandas is missing: no peer")
                reference = float("nan")
        tables = f["holes.csv"]["seconds"] + f["ligaments.csv"]["seconds"]
        print(
            f"{f['holes']:9d} {f['results.json']['seconds']:7.3f} {f['report.html']['seconds']:7.3f}"
            f" {f['certificate.pdf']['seconds']:7.3f} {f['results.qif']['seconds']:7.3f}"
            f" {f['qif_whole']['seconds']:9.3f}"
            f" {f['holes.csv']['seconds']:10.3f} {f['ligaments.csv']['seconds']:14.3f}"
            f" {f['folder']['seconds']:8.3f} {f['qif_whole']['folder_gz_seconds']:11.3f} {f['peak_kb'] / 1024:8.0f} {reference:17.3f} s"
            f" {reference / tables:6.1f}"
        )
        counts.append(f["holes"])
        seconds.append(f["folder"]["seconds"])
    growth.say("the folder", counts, seconds)


if __name__ == "__main__":
    main()
