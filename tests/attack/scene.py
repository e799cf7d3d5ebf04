"""What every case of attack.py works with: the program, the small job, its report."""
import json
import subprocess
import sys
from pathlib import Path

PROGRAM = Path(sys.argv[1]).resolve()
SOURCE = Path(sys.argv[2]).resolve()
ESC, CSI, RLO, CR = "\x1b]0;owned\x07", "\x1b[2J", "\u202e", "\r"
STEERING = [b"\x1b", b"\x07", b"\r", "\u202e".encode(), "\u2066".encode(), "\x9b".encode()]
CASES = {}


def case(function):
    CASES[function.__name__] = function
    return function


def run(*words, cwd, status=None, timeout=60, **more):
    done = subprocess.run([str(PROGRAM), *map(str, words)], cwd=cwd, capture_output=True, timeout=timeout,
                          stdin=subprocess.DEVNULL, **more)
    if status is not None:
        assert done.returncode == status, f"{words}: status {done.returncode}, not {status}: {done.stdout} {done.stderr}"
    assert done.returncode in (0, 1, 2, 3), f"{words}: ended by {done.returncode}"
    return done


def must_be_clean(done, words):
    for stream in (done.stdout, done.stderr):
        for bad in STEERING:
            assert bad not in stream, f"{words}: {bad!r} reaches the terminal: {stream!r}"
        stream.decode()  # and it is UTF-8


def report(folder, **changes):
    """The report of the small job in `folder`, with values of results.json changed."""
    run("inspect", "-q", "small.ini", cwd=folder)
    path = folder / "small-report/results.json"
    if not changes:
        return path.parent  # to the byte as it was made
    root = json.loads(path.read_text())
    for dotted, value in changes.items():
        place = root
        *parts, last = dotted.split("__")
        for part in parts:
            place = place[int(part)] if part.isdigit() else place[part]
        place[int(last) if last.isdigit() else last] = value
    path.write_text(json.dumps(root, indent=2))
    return folder / "small-report"


def keys(folder, name="office"):
    run("keys", "-q", name, "--no-passphrase", cwd=folder, status=0)
