#!/usr/bin/env python3
"""Files dropped on the page: whole or not at all, never over another, nothing but tables, nowhere else.

    upload.py PROGRAM SOURCE
"""
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from screen import Screen

PROGRAM = sys.argv[1]


def put(screen, path, data, **headers):
    return screen.ask("PUT", "/api/upload", data, headers={"Content-Type": "application/octet-stream", **headers}, path=path)


def left(folder):
    return sorted(str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file())


def check_whole(screen, folder):
    data = os.urandom(9_000_000)
    status, _, answer = put(screen, "K2 front/survey.csv", data)
    assert status == 201 and b"9000000" in answer, (status, answer)
    assert (folder / "K2 front/survey.csv").read_bytes() == data
    status, _, answer = put(screen, "K2 front/survey.csv", b"x,y,z\n")
    assert status == 422 and b"is there already" in answer
    assert (folder / "K2 front/survey.csv").read_bytes() == data, "never over another"
    assert put(screen, "empty.txt", b"")[0] == 201


def check_refused(screen, folder):
    elsewhere = Path(tempfile.mkdtemp(prefix="plateproof-serve-"))
    os.symlink(elsewhere, folder / "out")
    os.symlink("/nowhere/x.csv", folder / "dangling.csv")
    before = left(folder)
    for path in ("../x.csv", f"{elsewhere}/x.csv", "a/../../x.csv", ".hidden.csv", "a/.x.csv", "x.ini", "x.html", "x", "x.csv.key", "out/x.csv", "a/b/x.csv",
                 "dangling.csv", "n" * 300 + ".csv", "a\nb.csv", ""):
        status, _, _ = put(screen, path, b"x,y\n1,2\n")
        assert status in (400, 404, 422), (path, status)
    assert put(screen, "y.csv", b"x", Origin="http://x.example")[0] == 403
    assert put(screen, "y.csv", b"x", Cookie="a=b")[0] == 401
    assert left(folder) == before
    assert not any(elsewhere.iterdir())
    elsewhere.rmdir()


def check_cut_off(screen, folder):
    """A browser that goes away in the middle leaves nothing."""
    before = left(folder)
    line = socket.create_connection(("127.0.0.1", screen.port))
    line.sendall((f"PUT /api/upload?path=cut.csv HTTP/1.1\r\nHost: 127.0.0.1:{screen.port}\r\nCookie: {screen.cookie}\r\n"
                  f"Origin: http://127.0.0.1:{screen.port}\r\nContent-Length: 1000000\r\n\r\n").encode() + b"x" * 5000)
    for _ in range(50):
        if any(p.name.startswith(".plateproof-") for p in folder.iterdir()):
            break
        time.sleep(0.05)
    else:
        raise AssertionError("the upload did not begin")
    line.close()
    for _ in range(100):
        if left(folder) == before:
            return
        time.sleep(0.05)
    raise AssertionError(left(folder))


def check_race(screen, folder):
    """Of several that send the same name at once one wins, whole."""
    seen, sent = [], [bytes([65 + i]) * 500_000 for i in range(6)]
    crowd = [threading.Thread(target=lambda d=d: seen.append(put(screen, "race.csv", d)[0])) for d in sent]
    [t.start() for t in crowd]
    [t.join() for t in crowd]
    assert sorted(seen) == [201] + [422] * 5, seen
    assert (folder / "race.csv").read_bytes() in sent


def check_memory(screen, folder):
    """A large file goes to disk, not into memory."""
    def peak():
        return int(next(l for l in Path(f"/proc/{screen.process.pid}/status").read_text().splitlines() if l.startswith("VmRSS")).split()[1])
    before = peak()
    assert put(screen, "large.csv", b"1,2,3\n" * 10_000_000)[0] == 201
    assert (folder / "large.csv").stat().st_size == 60_000_000
    assert peak() - before < 20_000, (before, peak())


def main():
    folder = Path(tempfile.mkdtemp(prefix="plateproof-serve-"))
    screen = Screen(PROGRAM, folder)
    screen.enter()
    check_whole(screen, folder)
    check_refused(screen, folder)
    check_cut_off(screen, folder)
    check_race(screen, folder)
    check_memory(screen, folder)
    status, _, wrong = screen.end()
    assert status == 0 and wrong == "", wrong
    shutil.rmtree(folder)
    print("upload: ok")


main()
