#!/usr/bin/env python3
"""A folder of many plates, and many questions: how long, how much processor, how much memory.

    load.py PROGRAM SOURCE [PLATES]

Times are printed, not judged (docs/testing.md has them); memory and answers are.
"""
import http.client
import json
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from screen import Screen

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]
PLATES = int(sys.argv[3]) if len(sys.argv) > 3 else 2000
A_SECOND, SECONDS = 200, 10


def resident(screen):
    """kB"""
    status = Path(f"/proc/{screen.process.pid}/status").read_text()
    return int(next(line for line in status.splitlines() if line.startswith("VmRSS")).split()[1])


def processor(screen):
    """Seconds of processor so far, the server's own."""
    fields = Path(f"/proc/{screen.process.pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def make_plates(folder):
    """Each with a report of its own; every fifth a large one."""
    model = folder / "model"
    shutil.copytree(Path(SOURCE) / "tests/cli/files", model)
    subprocess.run([PROGRAM, "inspect", "-q", model / "small.ini"], check=False)
    results = json.loads((model / "small-report/results.json").read_text())
    results["filler"] = [{"hole": f"A{i}", "value": i / 7, "classes": ["in", "out"]} for i in range(2000)]
    large = json.dumps(results)
    for i in range(PLATES):
        place = folder / f"order-{i // 50:03d}" / f"P{i:04d}"
        place.mkdir(parents=True)
        for name in ("nominal.csv", "measured.csv"):
            os.link(model / name, place / name)
        (place / "p.ini").write_text((model / "small.ini").read_text().replace("[job]\n", f"[job]\nplate_id = P-{i:04d}\n"))
        (place / "p-report").mkdir()
        if i % 5:
            os.link(model / "small-report/results.json", place / "p-report/results.json")
        else:
            (place / "p-report/results.json").write_text(large)
    shutil.rmtree(model)


def check_list(screen):
    before = resident(screen)
    begun, used = time.monotonic(), processor(screen)
    rows = screen.json("/api/plates")["rows"]
    first, first_used = time.monotonic() - begun, processor(screen) - used
    while any(row.get("reading") for row in rows):
        rows = screen.json("/api/plates")["rows"]
    whole, used = time.monotonic() - begun, processor(screen) - used
    assert len(rows) == PLATES and all(row["verdict"] for row in rows)
    held = resident(screen) - before
    times = []
    for _ in range(5):
        begun, again = time.monotonic(), processor(screen)
        screen.json("/api/plates")
        times.append((time.monotonic() - begun, processor(screen) - again))
    for _ in range(20):
        screen.json("/api/plates")
    grown = resident(screen) - before - held
    print(f"{PLATES} plates: first answer {first:.2f} s ({first_used:.2f} s of processor), all read {whole:.2f} s ({used:.2f} s of processor); list again "
          f"{sorted(times)[2][0]:.2f} s ({sorted(t[1] for t in times)[2]:.2f} s of processor); {held / PLATES:.1f} kB held a plate, {grown} kB more after 25 lists")
    if "asan" not in PROGRAM:
        assert held / PLATES < 12, f"{held / PLATES:.1f} kB held a plate"
        assert grown < 8000, grown


def check_questions(screen):
    """Static files, evenly, from eight connections that stay open."""
    late, before = [], processor(screen)

    def ask(share):
        line = http.client.HTTPConnection("127.0.0.1", screen.port, timeout=30)
        begun = time.monotonic()
        for i in range(share, A_SECOND * SECONDS, 8):
            time.sleep(max(0, begun + i / A_SECOND - time.monotonic()))
            asked = time.monotonic()
            line.request("GET", "/web/" + ("screen.js", "plates.js", "draw.js", "screen.css")[i % 4], headers={"Cookie": screen.cookie, "Sec-Fetch-Site": "same-origin"})
            answer = line.getresponse()
            assert answer.status == 200 and answer.read()
            late.append(time.monotonic() - asked)
        line.close()
    crowd = [threading.Thread(target=ask, args=(share,)) for share in range(8)]
    begun = time.monotonic()
    [t.start() for t in crowd]
    [t.join() for t in crowd]
    took = time.monotonic() - begun
    assert len(late) == A_SECOND * SECONDS
    late.sort()
    memory = resident(screen)
    print(f"{len(late)} questions in {took:.1f} s: {len(late) / took:.0f} a second, half within {1000 * late[len(late) // 2]:.1f} ms, 99 of 100 within {1000 * late[len(late) * 99 // 100]:.1f} ms, "
          f"{processor(screen) - before:.2f} s of processor, {memory / 1000:.0f} MB resident")
    if "asan" not in PROGRAM:
        assert memory < 50_000, f"{memory} kB"


def main():
    folder = Path(tempfile.mkdtemp(prefix="plateproof-load-"))
    make_plates(folder)
    screen = Screen(PROGRAM, folder)
    screen.enter()
    check_list(screen)
    check_questions(screen)
    status, _, wrong = screen.end()
    assert status == 0 and wrong == "", wrong
    shutil.rmtree(folder)
    print("load: ok")


main()
