#!/usr/bin/env python3
"""What stands beside a report at the screen: rounds and reports compared, a corrected list, a history, a bundle.

    beside.py PROGRAM SOURCE

Every folder is the one that the command line makes; nothing outside is read or written.
"""
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from screen import Events, Screen

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]


def order(screen, job, **more):
    status, _, data = screen.ask("POST", "/api/run", json.dumps({"job": job, **more}))
    return status, json.loads(data) if data else None


def done(screen, events, job, **more):
    """The run, once it has ended."""
    status, told = order(screen, job, **more)
    assert status == 202, (job, more, told)
    mine = lambda run: run["number"] == told["number"]
    state = events.until(lambda s: any(mine(r) and r["state"] in ("done", "failed", "stopped") for r in s["runs"]))
    return next(r for r in state["runs"] if mine(r))


def bytes_of(folder):
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}


def same_as_terminal(folder, *words):
    """The folder holds what the same command writes from a terminal."""
    twin = folder.parent / "twin"
    subprocess.run([PROGRAM, *map(str, words), "-o", twin], check=False, capture_output=True)
    assert bytes_of(folder) == bytes_of(twin) and bytes_of(twin), words
    shutil.rmtree(twin)


def make_shop(place):
    """Plates F1 to F4 of one machine that drills 0.12 mm/m too large, F1 with a bad hole that was mended in round 2."""
    shop = place / "shop"
    shop.mkdir()
    holes = [(f"A{i}", 32.0 * (i % 8), 32.0 * (i // 8)) for i in range(64)]
    (shop / "nominal.csv").write_text("hole,x,y\n" + "".join(f"{n},{x},{y}\n" for n, x, y in holes))
    for k in range(1, 5):
        noise = lambda i: ((i * 37 + k * 11) % 17 - 8) / 4000
        rows = [f"{n},{x * 1.0012 + noise(i):.4f},{y * 1.0012 + noise(i + 5):.4f},25.7,1" for i, (n, x, y) in enumerate(holes)]
        if k == 1:
            rows[9] = "A9,33.5,32.0,25.7,1"
            rows.append("A9,32.04,32.04,25.7,2")
        (shop / f"f{k}.csv").write_text("hole,x,y,diameter,round\n" + "\n".join(rows) + "\n")
        (shop / f"f{k}.ini").write_text(
            f"[job]\nplate_id = F{k}\ndate = 2026-11-0{k}\ninspection_date = 2026-11-0{k}\n[plate]\noutline = rectangle\nwidth = 400\nheight = 400\n"
            f"centre = 112, 112\nthickness = 30\n[machine]\nname = borer\ndrilling_temperature = 20\n[holes]\nnominal = nominal.csv\nmeasured = f{k}.csv\n"
            "tube_diameter = 1 in\npitch = 32\nposition_limit = 0.6\nalign = best-fit\n[rules]\nligament_minimum = 3.05\n")
        subprocess.run([PROGRAM, "inspect", "-q", shop / f"f{k}.ini"], check=False)
        assert (shop / f"f{k}-report/results.json").exists()
    return shop


def check_compared(screen, events, shop):
    run = done(screen, events, "f1.ini", kind="compared", rounds=[1, 2])
    assert run["state"] == "done" and run["kind"] == "compared", run
    told = json.loads((shop / "f1-compared/comparison.json").read_text())
    assert told["changes"]["repaired"] >= 1 and [i["hole"] for i in told["items"] if i["change"] == "repaired"][0] == "A9", told
    assert "repaired" in run["said"] and str(shop) not in run["said"], run["said"]
    same_as_terminal(shop / "f1-compared", "compare", shop / "f1-report", "--rounds", "1,2", "--inputs", shop)
    assert done(screen, events, "f1.ini", kind="compared", **{"with": "f2.ini"})["state"] == "done"
    told = json.loads((shop / "f1-compared/comparison.json").read_text())
    assert told["before"]["plate_id"] == "F2" and told["now"]["plate_id"] == "F1"
    same_as_terminal(shop / "f1-compared", "compare", shop / "f2-report", shop / "f1-report")
    result = screen.json("/api/result", job="f1.ini", kind="compared")
    assert result["page"] == "comparison.html" and {"comparison.html", "comparison.csv"} <= set(result["files"])
    status, headers, page = screen.ask("GET", "/report", job="f1.ini", kind="compared")
    assert status == 200 and page == (shop / "f1-compared/comparison.html").read_bytes()
    assert "sandbox" in headers["content-security-policy"]
    run = done(screen, events, "f2.ini", kind="compared", rounds=[1, 2])  # it has one round
    assert run["state"] == "failed" and "round 2" in run["said"], run
    for wrong in ({"rounds": [2, 1]}, {"rounds": [0, 1]}, {"rounds": "1,2"}, {"with": "nowhere.ini"}, {"with": "../f1.ini"}, {"with": None}, {}):
        status, answer = order(screen, "f1.ini", kind="compared", **wrong)
        assert status == 422 and answer["problem"], (wrong, answer)


def check_correction(screen, events, shop):
    run = done(screen, events, "f4.ini", kind="correction", **{"from": ["f1.ini", "f2.ini", "f3.ini"]})
    assert run["state"] == "done", run
    assert (shop / "f4-correction/corrected.csv").exists(), run["said"]
    assert "scale" in run["said"] and str(shop) not in run["said"], run["said"]
    same_as_terminal(shop / "f4-correction", "correct", shop / "f4.ini", "--from", shop / "f1-report", "--from", shop / "f2-report", "--from", shop / "f3-report")
    for wrong in ([], ["nowhere.ini"], ["/etc/passwd"], ["f1.ini"] * 201, "f1.ini", [7]):
        assert order(screen, "f4.ini", kind="correction", **{"from": wrong})[0] == 422, wrong


def check_history(screen, events, shop):
    assert screen.json("/api/histories") == {"histories": []}
    run = done(screen, events, "shop.history", kind="history", add=["f1.ini", "f2.ini", "f3.ini", "f4.ini"])
    assert run["state"] == "done" and "4 added" in run["said"], run
    assert screen.json("/api/histories") == {"histories": ["shop.history"]}
    assert done(screen, events, "shop.history", kind="history")["state"] == "done"
    assert b"F3" in (shop / "shop-history/history.html").read_bytes()
    same_as_terminal(shop / "shop-history", "history", "page", shop / "shop.history")
    run = done(screen, events, "shop.history", kind="history", add=["f2.ini"])
    assert "1 already there" in run["said"], run
    (shop.parent / "real.history").write_bytes(b"")
    os.symlink(shop.parent / "real.history", shop / "out.history")
    for wrong in ("shop.ini", "nothing.history", "x.history/y.history", "out.history"):
        assert order(screen, wrong, kind="history")[0] == 422, wrong


def check_bundle(screen, events, shop):
    shutil.copytree(Path(SOURCE) / "data/demo-bundle", shop / "bundle")
    row = lambda: next(r for r in screen.json("/api/plates")["rows"] if r["job"] == "bundle/set.ini")
    assert row()["bundle"] and row()["title"].startswith("demo bundle") and "verdict" not in row()
    assert done(screen, events, "bundle/set.ini")["state"] == "done"
    results = json.loads((shop / "bundle/set-report/results.json").read_text())
    assert row()["verdict"] == results["verdict"] and row()["tubes"]["count"] == 139, row()
    plate = screen.json("/api/plate", job="bundle/set.ini")
    assert plate["bundle"] and plate["facts"]["tubes"]["straight"] == results["bundle"]["passes_straight"]
    text = (shop / "bundle/set.ini").read_text()
    os.symlink("/etc/passwd", shop / "bundle/link.csv")
    for inside, outside in (("nominal = b1_nominal.csv", "nominal = /etc/passwd"), ("[plate B1]\n", "[plate B1]\njob = ../../outside.ini\n"),
                            ("measured = b1.csv", "measured = link.csv")):
        assert inside in text
        (shop / "bundle/set.ini").write_text(text.replace(inside, outside))
        status, answer = order(screen, "bundle/set.ini")
        assert status == 422 and "outside the folder" in answer["problem"], (outside, answer)


def check_outside(screen, shop, place):
    """Links in the way of a result, or in the folders that are read, lead nowhere."""
    (place / "victim").mkdir()
    for link in ("f3-compared", "f3-correction"):
        os.symlink(place / "victim", shop / link)
    assert order(screen, "f3.ini", kind="compared", **{"with": "f2.ini"})[0] == 422
    assert order(screen, "f3.ini", kind="correction", **{"from": ["f2.ini"]})[0] == 422
    os.symlink("/etc/passwd", shop / "f2-report/holes-too.csv")
    assert order(screen, "f4.ini", kind="compared", **{"with": "f2.ini"})[0] == 422
    shutil.move(shop / "f1-report", place / "kept")
    os.symlink(place / "kept", shop / "f1-report")
    assert order(screen, "f4.ini", kind="compared", **{"with": "f1.ini"})[0] == 422
    assert order(screen, "f1.ini")[0] == 422, "nor is a report written through one"
    assert not list((place / "victim").iterdir())
    for kind in ("live", "nothing", "../report"):
        assert order(screen, "f4.ini", kind=kind)[0] == 422, kind
    for kind in ("nothing", "..", ""):
        assert screen.ask("GET", "/api/result", job="f4.ini", kind=kind)[0] == 400, kind
        assert screen.ask("GET", "/report", job="f4.ini", kind=kind)[0] == 404, kind


def main():
    place = Path(tempfile.mkdtemp(prefix="plateproof-beside-"))
    shop = make_shop(place)
    (place / "outside.ini").write_text("[plate]\n")
    screen = Screen(PROGRAM, shop)
    screen.enter()
    events = Events(screen)
    check_compared(screen, events, shop)
    check_correction(screen, events, shop)
    check_history(screen, events, shop)
    check_bundle(screen, events, shop)
    check_outside(screen, shop, place)
    status, _, wrong = screen.end()
    assert status == 0 and wrong == "", wrong
    shutil.rmtree(place)
    print("beside: ok")


main()
