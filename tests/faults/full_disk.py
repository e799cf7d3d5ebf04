#!/usr/bin/env python3
"""Writing fails: at every size a file may grow to, on a full disk (as root: a small tmpfs), into a
folder that cannot be written. Each time status 3, one line that says so, the old report whole and
nothing hidden left. And two runs at once into one folder.

    full_disk.py PROGRAM
"""

import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

FILES = Path(__file__).resolve().parent.parent / "cli" / "files"
ENVIRONMENT = {**os.environ, "SOURCE_DATE_EPOCH": "0"}


def contents(folder):
    return {p.name: p.read_bytes() for p in Path(folder).iterdir()}


def hidden(folder):
    return [p.name for p in Path(folder).iterdir() if p.name.startswith(".")]


def run(program, folder, *arguments, **more):
    done = subprocess.run([program, "inspect", "-q", *arguments], cwd=folder, env=ENVIRONMENT, capture_output=True,
                          timeout=60, **more)
    return done.returncode, done.stderr.decode("utf-8", "replace")


def refused(status, said):
    return status == 3 and said.count("\n") == 1 and ";" in said


def file_limits(program, folder, old):
    """Every file cut at a share of its size."""
    tried = wrong = 0
    sizes = sorted({int(len(data) * share) for data in old.values() for share in (0, 0.5, 0.999)})
    for size in sizes:
        def limit():
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
        status, said = run(program, folder, "small.ini", preexec_fn=limit)
        tried += 1
        if not refused(status, said) or contents(folder / "small-report") != old or hidden(folder):
            wrong += 1
            print(f"files of at most {size} bytes: status {status}, {said}, left {hidden(folder)}")
    return tried, wrong


def small_disk(program, folder):
    """A tmpfs that the report does not fit, at several sizes; needs root."""
    tried = wrong = 0
    disk = folder / "disk"
    disk.mkdir()
    for kilobytes in (4, 16, 64, 128, 192):
        if subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "none", disk], capture_output=True).returncode:
            print("a small disk: skipped, it takes root to mount one")
            return tried, wrong
        try:
            status, said = run(program, folder, "-o", "disk/report", "small.ini")
            left = [p.name for p in disk.iterdir()]
            fits = status in (0, 1) and left == ["report"]
            tried += 1
            if not fits and (not refused(status, said) or left):
                wrong += 1
                print(f"a disk of {kilobytes} kB: status {status}, {said}, left {left}")
        finally:
            subprocess.run(["umount", disk], check=True)
    return tried, wrong


def closed_places(program, folder, old):
    tried = wrong = 0
    places = {"/dev/full/report": 3, "/proc/report": 3, "/nowhere/at/all": 3, "small.ini": 2}
    if os.geteuid() != 0:
        (folder / "closed").mkdir(mode=0o555)
        places["closed/report"] = 3
    for place, want in places.items():
        status, said = run(program, folder, "-o", place, "small.ini")
        tried += 1
        if status != want or said.count("\n") != 1 or hidden(folder):
            wrong += 1
            print(f"into {place}: status {status}, {said}")
    with open("/dev/full", "wb") as full:
        done = subprocess.run([program, "inspect", "--json", "small.ini"], cwd=folder, stdout=full, stderr=subprocess.PIPE)
    tried += 1
    if done.returncode != 3 or not done.stderr:
        wrong += 1
        print(f"--json to a full device: status {done.returncode}, {done.stderr}")
    return tried, wrong


def at_once(program, folder, old):
    """Two jobs into one folder: one of the two reports, whole."""
    tried = wrong = 0
    (folder / "other.ini").write_text((folder / "small.ini").read_text().replace("Small plate", "Other plate"))
    run(program, folder, "-o", "other-report", "other.ini")
    other = contents(folder / "other-report")
    for _ in range(8):
        runs = [subprocess.Popen([program, "inspect", "-q", "-o", "both", job], cwd=folder, env=ENVIRONMENT)
                for job in ("small.ini", "other.ini", "small.ini", "other.ini")]
        statuses = [run.wait(60) for run in runs]
        tried += len(runs)
        if any(s not in (0, 1) for s in statuses) or contents(folder / "both") not in (old, other) or hidden(folder):
            wrong += 1
            print(f"at once: statuses {statuses}, left {hidden(folder)}")
    return tried, wrong


def main():
    program = os.path.abspath(sys.argv[1])
    tried = wrong = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "work"
        shutil.copytree(FILES, folder)
        run(program, folder, "small.ini")
        old = contents(folder / "small-report")
        for counts in (file_limits(program, folder, old), small_disk(program, folder),
                       closed_places(program, folder, old), at_once(program, folder, old)):
            tried += counts[0]
            wrong += counts[1]
    print(f"{tried} runs that could not write or ran at once, {wrong} wrong")
    return 1 if wrong or not tried else 0


if __name__ == "__main__":
    sys.exit(main())
