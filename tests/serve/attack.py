#!/usr/bin/env python3
"""Somebody who wishes us ill, from outside: other paths, too much, too slow, cut off, at random.

    attack.py PROGRAM SOURCE [REQUESTS]

The random requests come from a fixed seed. With the cookie, so that they reach everything.
"""
import os
import random
import shutil
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

from screen import Screen, folder_of_demo

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]
REQUESTS = int(sys.argv[3]) if len(sys.argv) > 3 else 600
SECRET = b"the secret outside"


def raw(screen, data, wait=5.0):
    """What comes back for these very bytes."""
    line = socket.create_connection(("127.0.0.1", screen.port), timeout=wait)
    try:
        line.sendall(data)
        line.shutdown(socket.SHUT_WR)
        back = b""
        while piece := line.recv(65536):
            back += piece
        return back
    except OSError:
        return b""
    finally:
        line.close()


def head(screen, target, *lines, method="GET"):
    return "\r\n".join([f"{method} {target} HTTP/1.1", f"Host: 127.0.0.1:{screen.port}", "Cookie: " + screen.cookie,
                        "Connection: close", *lines, "", ""]).encode("latin-1")


def check_paths(screen, folder):
    outside = folder.parent / (folder.name + "-outside")
    outside.mkdir()
    (outside / "x.ini").write_bytes(b"[plate]\ndiameter = 1\n" + SECRET)
    (outside / "plate-report").mkdir()
    for name in ("report.html", "results.json"):
        (outside / "plate-report" / name).write_bytes(SECRET)
    os.symlink(outside, folder / "demo/link")
    os.symlink(outside / "plate-report", folder / "demo/sly-report")
    os.symlink("/etc/passwd", folder / "demo/clean-report")
    (folder / "demo/sly.ini").write_text("[plate]\noutline = disc\ndiameter = 500\n")
    os.mkfifo(folder / "demo/pipe.ini")
    (folder / "demo/baffle-report").mkdir()
    os.mkfifo(folder / "demo/baffle-report/results.json")
    os.mkfifo(folder / "demo/baffle-report/report.html")
    near = "../" + outside.name
    paths = [near + "/x.ini", near + "/plate.ini", "demo/../" + near + "/plate.ini", "demo/link/plate.ini", "demo/sly.ini",
             str(outside / "plate.ini"), "//etc/passwd", "demo/clean.ini", "demo/pipe.ini", "demo/baffle.ini", "demo//plate.ini",
             "demo/./plate.ini", "demo/plate.ini\0.x", ".git/config", "demo\\..\\x", "%2e%2e/x", "..%2fx", "\u202e", "a" * 5000]
    for path in paths:
        for address, more in (("/report", {}), ("/file", {"name": "report.html"}), ("/api/plate", {})):
            status, _, data = screen.ask("GET", address, job=path, **more)
            assert SECRET not in data and b"root:" not in data, (address, path)
            assert status in (200, 400, 404, 414, 431), (address, path, status)
            assert status != 200 or address == "/api/plate" and b'"report"' not in data, (address, path)
    for name in ("../plate.ini", "/etc/passwd", "..", ".", "", "a/b", "..%2fplate.ini"):
        status, _, data = screen.ask("GET", "/file", job="demo/plate.ini", name=name)
        assert status in (400, 404) and b"[plate]" not in data, name
    for target in ("/../etc/passwd", "/web/../../etc/passwd", "/web/%2e%2e/%2e%2e/etc/passwd", "/%2e%2e%2fetc/passwd",
                   "/web/..%5c..%5cx", "//etc/passwd", "/web//etc/passwd", "/web/\0", "/web/screen.js%00", "http://x.example/"):
        back = raw(screen, head(screen, target))
        assert b"root:" not in back and not back.startswith(b"HTTP/1.1 5"), target
    rows = {row["job"]: row for row in screen.json("/api/plates")["rows"]}
    assert not any("link/" in job for job in rows), "links to folders are not followed"
    assert "verdict" not in rows["demo/sly.ini"] and "verdict" not in rows["demo/clean.ini"]
    shutil.rmtree(outside)


def check_sizes(screen):
    big = head(screen, "/api/plates", "X-Filler: " + "a" * 17000)
    assert raw(screen, big).split(b" ")[1:2] in ([b"431"], [b"413"], []), "a header too large"
    many = head(screen, "/api/plates", *[f"X-{i}: {i}" for i in range(5000)])
    assert not raw(screen, many).startswith(b"HTTP/1.1 200")
    body = b"x" * (3 << 20)
    origin = f"Origin: http://127.0.0.1:{screen.port}"
    back = raw(screen, head(screen, "/api/plates", origin, f"Content-Length: {len(body)}", method="POST") + body)
    assert not back.startswith(b"HTTP/1.1 2")
    for length in ("-1", "99999999999999999999", "1e3", "0x10", ""):
        back = raw(screen, head(screen, "/api/plates", origin, "Content-Length: " + length, method="POST"))
        assert not back.startswith(b"HTTP/1.1 2"), length
    back = raw(screen, head(screen, "/api/plates", origin, "Transfer-Encoding: chunked", method="POST") + b"ffffffffffffffff\r\nx")
    assert not back.startswith(b"HTTP/1.1 2")


def check_crowd(screen):
    """More connections than there are places, all silent: dropped in time, and one of us gets in after."""
    crowd = []
    for _ in range(80):
        try:
            crowd.append(socket.create_connection(("127.0.0.1", screen.port), timeout=5))
        except OSError:
            break
    for line in crowd[:40]:
        line.sendall(b"GET / HT")
    for line in crowd:
        line.close()
    time.sleep(0.3)
    assert screen.json("/api/plates")["rows"]


def check_pace(screen):
    """More than 1000 requests a second are turned away, and then the door is open again."""
    data = head(screen, "/web/screen.js").replace(b"Connection: close", b"Connection: keep-alive")
    seen = []

    def hammer():
        line = socket.create_connection(("127.0.0.1", screen.port), timeout=10)
        try:
            line.sendall(data * 600)
            line.shutdown(socket.SHUT_WR)
            back = b""
            while piece := line.recv(1 << 20):
                back += piece
            seen.append(back.count(b"HTTP/1.1 200"))
        except OSError:
            pass
        line.close()

    crowd = [threading.Thread(target=hammer) for _ in range(4)]
    [t.start() for t in crowd]
    [t.join() for t in crowd]
    time.sleep(1.1)
    assert screen.ask("GET", "/web/screen.js")[0] == 200


def random_request(dice, screen):
    words = ["/", "/web/", "/web/screen.js", "/api/plates", "/api/plate", "/report", "/file", "/api/result", "/api/histories", "/api/picture", "&kind=compared", "&kind=", "?job=", "demo/plate.ini", "&name=",
             "..", "%00", "%", "%zz", "report.html", "\xff", "&", "=", "?token=", "a" * 300, "#", ";", "\\", "*"]
    target = "".join(dice.choice(words) for _ in range(dice.randint(1, 6)))
    lines = [dice.choice(["Origin: http://127.0.0.1:%d" % screen.port, "Origin: null", "Content-Type: application/json",
                          "Content-Length: %d" % dice.choice([0, 1, 7, 1 << 40]), "Transfer-Encoding: chunked", "Range: bytes=0-1",
                          "Expect: 100-continue", "Cookie: =;=;", "X: \x01", ": x", "Upgrade: h2c", "If-Range: x", " folded"])
             for _ in range(dice.randint(0, 4))]
    data = bytearray(head(screen, target, *lines, method=dice.choice(["GET", "GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "X", ""])))
    data += bytes(dice.randrange(256) for _ in range(dice.choice([0, 0, 3, 40])))
    for _ in range(dice.choice([0, 0, 1, 4])):
        data[dice.randrange(len(data))] = dice.randrange(256)
    return bytes(data[:dice.randrange(len(data))] if dice.random() < 0.2 else data)


def check_random(screen):
    dice = random.Random(20261127)
    answered = 0
    for _ in range(REQUESTS):
        back = raw(screen, random_request(dice, screen), wait=2)
        answered += bool(back)
        assert SECRET not in back and b"root:" not in back
        assert screen.process.poll() is None, "the server ended: " + screen.process.stderr.read()
    assert answered > REQUESTS / 2, answered


def main():
    folder = folder_of_demo(SOURCE)
    subprocess.run([PROGRAM, "flatness", folder / "demo/plate.ini", "-q"])
    screen = Screen(PROGRAM, folder)
    screen.enter()
    before = {p: p.stat().st_mtime_ns for p in folder.rglob("*")}
    check_paths(screen, folder)
    check_sizes(screen)
    check_crowd(screen)
    check_pace(screen)
    check_random(screen)
    assert all(p.exists() and (p.is_dir() or p.stat().st_mtime_ns == t) for p, t in before.items()), "nothing was written"
    assert screen.json("/api/plates")["rows"]
    status, _, wrong = screen.end()
    assert status == 0 and wrong == "", (status, wrong)
    shutil.rmtree(folder)
    print(f"attack: ok, {REQUESTS} random requests")


main()
