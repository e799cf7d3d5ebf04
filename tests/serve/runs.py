#!/usr/bin/env python3
"""Runs at the screen: the same folder as the command line's, queue, stop, failure, fence, events, ZIP, end.

    runs.py PROGRAM SOURCE
"""
import json
import os
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from io import BytesIO

from screen import Events, Screen, folder_of_demo

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]


def run(screen, job):
    status, _, data = screen.ask("POST", "/api/run", json.dumps({"job": job}))
    return status, json.loads(data) if data else None


def until(events, good):
    return events.until(lambda state: good(state["runs"]))["runs"]


def of_job(runs, job):
    return next((r for r in runs if r["job"] == job), None)


def ended(job):
    return lambda runs: (r := of_job(runs, job)) and r["state"] in ("done", "failed", "stopped")


def check_same_bytes(screen, folder, events):
    twin = folder / "twin"
    shutil.copytree(folder / "demo", twin)
    done = subprocess.run([PROGRAM, "inspect", twin / "small.ini", "-q"])
    assert done.returncode in (0, 1)
    status, answer = run(screen, "demo/small.ini")
    assert status == 202 and answer["number"] >= 1
    state = of_job(until(events, ended("demo/small.ini")), "demo/small.ini")
    assert state["state"] == "done" and state["status"] == done.returncode, state
    names = [stage["name"] for stage in state["stages"]]
    assert "judging" in names and names[-1] == "writing the report", names
    begun = [stage["begun"] for stage in state["stages"]]
    assert begun == sorted(begun) and begun[-1] <= state["seconds"] and all(s["share"] == 1 for s in state["stages"])
    here, there = folder / "demo/small-report", twin / "small-report"
    files = sorted(p.name for p in there.iterdir())
    assert sorted(p.name for p in here.iterdir()) == files and "report.html" in files
    for name in files:
        assert (here / name).read_bytes() == (there / name).read_bytes(), name + " differs from the command line's"


def check_archive(screen, folder):
    status, headers, data = screen.ask("GET", "/archive", job="demo/small.ini")
    assert status == 200 and headers["content-type"] == "application/zip" and "small-report.zip" in headers["content-disposition"]
    with zipfile.ZipFile(BytesIO(data)) as packed:
        assert packed.testzip() is None
        names = packed.namelist()
        assert names == sorted("small-report/" + p.name for p in (folder / "demo/small-report").iterdir()), names
        for name in names:
            assert packed.read(name) == (folder / "demo" / name).read_bytes(), name
    assert screen.ask("GET", "/archive", job="demo/nothing.ini")[0] == 404
    assert screen.ask("GET", "/archive", job="../x.ini")[0] == 400
    os.symlink("/etc/passwd", folder / "demo/small-report/sly.txt")
    _, _, data = screen.ask("GET", "/archive", job="demo/small.ini")
    assert b"root:" not in data and "small-report/sly.txt" not in zipfile.ZipFile(BytesIO(data)).namelist()
    (folder / "demo/small-report/sly.txt").unlink()


def check_fence(screen, folder):
    outside = folder.parent / (folder.name + ".csv")
    shutil.copy(folder / "demo/survey.csv", outside)
    text = (folder / "demo/small.ini").read_text()
    os.symlink(outside, folder / "demo/link.csv")
    for name, said in ((f"../../{outside.name}", "outside"), (str(outside), "outside"), ("link.csv", "outside"), ("/etc/passwd", "outside")):
        (folder / "demo/out.ini").write_text(text.replace("survey.csv", name))
        status, answer = run(screen, "demo/out.ini")
        assert status == 422 and said in answer["problem"] and answer["problem"].startswith("line "), (name, answer)
    (folder / "demo/out.ini").write_text(text + "[rules]\nset = ../../rules.ini\n")
    assert run(screen, "demo/out.ini")[0] == 422
    assert not (folder / "demo/out-report").exists()
    for job in ("../x.ini", "/etc/passwd", "", None, 7, "demo/nothing.ini"):
        assert run(screen, job)[0] in (400, 404), job
    outside.unlink()


def check_refusals(screen):
    for body, kind, wanted in ((b"{}", "text/plain", 415), (b"job=x", "application/x-www-form-urlencoded", 415),
                               (b"{", "application/json", 400), (b"[]", "application/json", 400), (b"", "application/json", 400)):
        status, _, _ = screen.ask("POST", "/api/run", body, headers={"Content-Type": kind})
        assert status == wanted, (body, kind, status)
    assert screen.ask("POST", "/api/run", b'{"job": "demo/small.ini"}', headers={"Origin": "http://x.example"})[0] == 403
    assert screen.ask("GET", "/api/run")[0] == 405


def check_failure(screen, folder, events):
    (folder / "demo/bad.ini").write_text((folder / "demo/small.ini").read_text().replace("survey.csv", "gone.csv"))
    assert run(screen, "demo/bad.ini")[0] == 202
    state = of_job(until(events, ended("demo/bad.ini")), "demo/bad.ini")
    assert state["state"] == "failed" and state["status"] == 3 and "gone.csv" in state["said"], state


def check_stop(screen, folder, events):
    """A long run is stopped; one killed by the system is told; the report from before stays."""
    going = lambda runs: (r := of_job(runs, "demo/plate.ini")) and r["state"] == "running" and r["stages"]
    for how in ("asked", "killed"):
        assert run(screen, "demo/plate.ini")[0] == 202
        assert run(screen, "demo/plate.ini")[0] == 409, "it runs already"
        number = of_job(until(events, going), "demo/plate.ini")["number"]
        if how == "asked":
            assert screen.ask("POST", "/api/stop", json.dumps({"number": number}))[0] == 200
        else:
            children = subprocess.run(["pgrep", "-P", str(screen.process.pid)], capture_output=True, text=True).stdout.split()
            assert children
            [os.kill(int(child), signal.SIGKILL) for child in children]
        state = of_job(until(events, ended("demo/plate.ini")), "demo/plate.ini")
        assert state["state"] == ("stopped" if how == "asked" else "failed"), state
    assert screen.ask("POST", "/api/stop", json.dumps({"number": number}))[0] == 404
    assert not (folder / "demo/plate-report").exists()
    assert screen.json("/api/plates")["rows"], "the server serves on"


def check_queue(screen, folder, events):
    text = (folder / "demo/small.ini").read_text()
    jobs = [f"demo/q{i}.ini" for i in range(12)]
    for job in jobs:
        (folder / job).write_text(text)
        assert run(screen, job)[0] == 202
    at_once = []

    def all_done(runs):
        at_once.append(sum(r["state"] == "running" for r in runs))
        return all((r := of_job(runs, job)) and r["state"] == "done" for job in jobs)
    until(events, all_done)
    assert max(at_once) <= len(os.sched_getaffinity(0)), at_once
    assert all((folder / job.replace(".ini", "-report") / "results.json").exists() for job in jobs)


def check_end(screen, events):
    """The server ends with a run going and a stream open: in time, and no child is left."""
    assert run(screen, "demo/plate.ini")[0] == 202
    until(events, lambda runs: (r := of_job(runs, "demo/plate.ini")) and r["state"] == "running" and r["stages"])
    children = subprocess.run(["pgrep", "-P", str(screen.process.pid)], capture_output=True, text=True).stdout.split()
    begun = time.monotonic()
    status, _, wrong = screen.end()
    took = time.monotonic() - begun
    assert status == 0 and wrong == "" and took < 3, (status, wrong, took)
    assert children and not any(os.path.exists(f"/proc/{child}") for child in children)


def check_steps(folder):
    """--progress-fd by itself: a line each, and what is no handle is refused before the work."""
    job = str(folder / "demo/small.ini")
    done = subprocess.run(["bash", "-c", '"$0" flatness "$1" --json --progress-fd 3 3>&1 >/dev/null', PROGRAM, job], capture_output=True, text=True)
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert lines[0]["share"] == 0 and {"stage", "share"} == set(lines[0]) and "judging" in [line["stage"] for line in lines]
    for wrong in ("9", "x", "-1", "3.5", ""):
        done = subprocess.run([PROGRAM, "flatness", job, "--json", "--progress-fd", wrong], capture_output=True, text=True)
        assert done.returncode == 2 and "--progress-fd" in done.stderr and done.stdout == "", wrong


def main():
    folder = folder_of_demo(SOURCE)
    (folder / "demo/small.ini").write_text("[job]\nplate_id = S\ndate = 2026-11-20\n[plate]\noutline = disc\ndiameter = 2400\n"
                                           "[survey]\nfile = survey.csv\nflatness_limit = 3\n")
    screen = Screen(PROGRAM, folder)
    screen.enter()
    events = Events(screen)
    check_same_bytes(screen, folder, events)
    check_steps(folder)
    check_archive(screen, folder)
    check_fence(screen, folder)
    check_refusals(screen)
    check_failure(screen, folder, events)
    check_stop(screen, folder, events)
    check_queue(screen, folder, events)
    check_end(screen, events)
    shutil.rmtree(folder)
    print("runs: ok")


main()
