#!/usr/bin/env python3
"""Who gets in and what they see: token, cookie, Host, Origin, Sec-Fetch-Site, headers, list, end.

    doors.py PROGRAM SOURCE
"""
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from screen import Screen, folder_of_demo

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]
SMALL = "[plate]\noutline = disc\ndiameter = 400\n[survey]\nfile = s.csv\nflatness_limit = 1\n[job]\nplate_id = P-%d\n"


def small_survey():
    return "x,y,z\n" + "".join(f"{x},{y},{(x * 7 + y * 3) % 11 / 100}\n"
                               for x in range(-150, 151, 50) for y in range(-150, 151, 50))


def check_entry(screen):
    status, headers, data = screen.ask("GET", "/")
    assert (status, data) == (401, b""), "without a cookie nothing is said"
    assert "set-cookie" not in headers
    first = screen.token
    for wrong in ("0" * 32, first[:-1], first + "0", "", first.upper() + "x"):
        assert screen.ask("GET", "/?token=" + wrong)[0] == 401, wrong
    headers = screen.enter()
    for part in ("HttpOnly", "SameSite=Strict", "Path=/"):
        assert part in headers["set-cookie"], part
    assert headers["location"] == "/"
    assert screen.ask("GET", "/?token=" + first, headers={"Cookie": None})[0] == 401, "a token works once"
    assert screen.token != first
    name = screen.cookie.split("=")[0]
    for wrong in (name + "=" + "0" * 32, name + "=", screen.cookie[:-1], "x" + screen.cookie):
        assert screen.ask("GET", "/api/plates", headers={"Cookie": wrong})[0] == 401, wrong


def check_sources(screen):
    at = f"127.0.0.1:{screen.port}"
    assert screen.ask("GET", "/api/plates", headers={"Host": f"localhost:{screen.port}"})[0] == 200
    for host in ("plates.example", f"plates.example:{screen.port}", "127.0.0.1", f"127.0.0.1:{screen.port + 1}"):
        status, _, data = screen.ask("GET", "/api/plates", headers={"Host": host})
        assert (status, data) == (421, b""), host
    for site in ("cross-site", "same-site"):
        assert screen.ask("GET", "/api/plates", headers={"Sec-Fetch-Site": site})[0] == 403, site
    for origin in (None, "null", "http://plates.example", f"https://{at}", f"http://localhost:{screen.port}"):
        status, _, data = screen.ask("POST", "/api/plates", b"{}", headers={"Origin": origin})
        assert (status, data) == (403, b""), origin
    assert screen.ask("POST", "/api/plates", b"{}", headers={"Sec-Fetch-Site": "cross-site"})[0] == 403
    assert screen.ask("POST", "/api/plates", b"{}")[0] == 405, "from here it is only the wrong method"


def check_headers(screen):
    for url in ("/", "/web/screen.js", "/api/plates", "/nothing", "/report?job=demo/plate.ini"):
        _, headers, _ = screen.ask("GET", url)
        policy = headers["content-security-policy"]
        assert policy.startswith("default-src 'none'"), (url, policy)
        assert headers["x-content-type-options"] == "nosniff", url
        assert headers["referrer-policy"] == "no-referrer" and headers["cache-control"] == "no-store", url
        assert "access-control-allow-origin" not in headers, url
    _, headers, page = screen.ask("GET", "/")
    assert "unsafe" not in headers["content-security-policy"]
    assert b"<script>" not in page and b" style=" not in page and b"onclick" not in page
    _, headers, _ = screen.ask("GET", "/report?job=demo/plate.ini")
    assert "sandbox allow-scripts" in headers["content-security-policy"]
    assert "allow-same-origin" not in headers["content-security-policy"]


def check_list(screen, folder):
    rows = {row["job"]: row for row in screen.json("/api/plates")["rows"]}
    assert "demo/hidden/.x.ini" not in rows and ".secret.ini" not in rows
    assert set(rows) == {"demo/plate.ini", "demo/clean.ini", "demo/baffle.ini", "wrong.ini", "a/b/small.ini", "set.ini"}, set(rows)
    assert rows["set.ini"]["bundle"] and not any("bundle" in rows[job] for job in rows if job != "set.ini")
    results = json.loads((folder / "demo/plate-report/results.json").read_text())
    row = rows["demo/plate.ini"]
    assert row["verdict"] == results["verdict"] and row["plate"] == results["job"]["plate_id"]
    assert row["holes"] == {"nominal": results["holes"]["nominal"], "measured": results["holes"]["measured"]}
    assert row["findings"] == results["exceptions"]["count"] > 0
    assert row["changed"] == [] and "holddown" not in row
    assert "verdict" not in rows["demo/clean.ini"]
    assert rows["wrong.ini"]["problem"].startswith("line 2:") and "outlin" in rows["wrong.ini"]["problem"]


def check_changes(screen, folder):
    data = folder / "demo/measured.csv"
    state = lambda: {i["file"]: i["state"] for i in screen.json("/api/plate", job="demo/plate.ini")["inputs"]}
    assert set(state().values()) == {"same"}
    os.utime(data)  # written again with the same bytes: the clock says so, the hash takes it back
    rows = {row["job"]: row for row in screen.json("/api/plates")["rows"]}
    assert rows["demo/plate.ini"]["changed"] == ["measured.csv"]
    assert set(state().values()) == {"same"}
    data.write_bytes(data.read_bytes() + b"\n")
    assert state()["measured.csv"] == "changed"
    data.rename(folder / "demo/elsewhere.csv")
    assert state()["measured.csv"] == "gone"
    (folder / "demo/elsewhere.csv").rename(data)
    (folder / "demo/plate-report/results.json").write_text("[1, 2")  # half a file is no report
    rows = {row["job"]: row for row in screen.json("/api/plates")["rows"]}
    assert "verdict" not in rows["demo/plate.ini"]


def check_report(screen, folder):
    for name, address in (("report.html", "/report"), ("certificate.pdf", "/file"), ("holes.csv", "/file")):
        status, headers, data = screen.ask("GET", address, job="demo/plate.ini", **({"name": name} if address == "/file" else {}))
        assert status == 200 and data == (folder / "demo/plate-report" / name).read_bytes(), name
        assert ("attachment" in headers.get("content-disposition", "")) == (address == "/file"), name


def check_many():
    folder = Path(tempfile.mkdtemp(prefix="plateproof-serve-"))
    (folder / "s.csv").write_text(small_survey())
    (folder / "p0.ini").write_text(SMALL % 0)
    subprocess.run([PROGRAM, "flatness", folder / "p0.ini"], capture_output=True)
    for i in range(1, 300):
        (folder / f"p{i}.ini").write_text(SMALL % i)
        shutil.copytree(folder / "p0-report", folder / f"p{i}-report")
    screen = Screen(PROGRAM, folder)
    screen.enter()
    first = screen.json("/api/plates")
    assert len(first["rows"]) == 300 and sum("reading" not in row for row in first["rows"]) >= 50
    for _ in range(300):  # what is left for the next question
        if not any("reading" in row for row in first["rows"]):
            break
        first = screen.json("/api/plates")
    again = screen.json("/api/plates")
    assert len(first["rows"]) == 300 and first == again
    assert {row["plate"] for row in first["rows"]} == {f"P-{i}" for i in range(300)}
    results = json.loads((folder / "p7-report/results.json").read_text())
    assert {row["flatness"]["value"] for row in first["rows"]} == {results["flatness"]["minimum_zone"]["flatness"]}
    shutil.rmtree(folder)
    status, _, data = screen.ask("GET", "/api/plates")  # the folder went away
    assert status in (200, 404) and (status == 404 or json.loads(data)["rows"] == []), (status, data)
    screen.end()


def check_end(folder):
    for how in (signal.SIGTERM, signal.SIGINT):
        screen = Screen(PROGRAM, folder)
        screen.enter()
        begun = time.monotonic()
        status, out, wrong = screen.end(how)
        assert status == 0 and wrong == "" and time.monotonic() - begun < 2, (status, wrong)
    screen = Screen(PROGRAM, folder, "--idle-exit", "0.02")
    screen.process.wait(timeout=10)
    assert screen.end()[0] == 0
    screen = Screen(PROGRAM, folder)
    taken = subprocess.run([PROGRAM, "serve", folder, "--port", str(screen.port)], capture_output=True, text=True)
    assert taken.returncode == 2 and "--port" in taken.stderr, taken.stderr
    screen.end()
    for words in (["/nowhere"], [str(folder / "wrong.ini")], [str(folder), "--port", "0"], [str(folder), "--port", "70000"],
                  [str(folder), "--idle-exit", "x"], [str(folder), "more"]):
        done = subprocess.run([PROGRAM, "serve", *words], capture_output=True, text=True)
        assert done.returncode == 2 and done.stderr, words


def main():
    folder = folder_of_demo(SOURCE)
    subprocess.run([PROGRAM, "holes", folder / "demo/plate.ini", "-q", "--threads", "2"])
    (folder / "wrong.ini").write_text("[plate]\noutlin = disc\n")
    (folder / "set.ini").write_text("[bundle]\nunits = mm\n")
    (folder / "rules.ini").write_text("[set]\nname = ours\n")
    (folder / ".secret.ini").write_text(SMALL % 1)
    (folder / "a/b/c").mkdir(parents=True)
    (folder / "a/b/small.ini").write_text(SMALL % 2)
    (folder / "a/b/c/too-deep.ini").write_text(SMALL % 3)
    screen = Screen(PROGRAM, folder)
    check_entry(screen)
    check_sources(screen)
    check_headers(screen)
    check_list(screen, folder)
    check_report(screen, folder)
    check_changes(screen, folder)
    screen.end()
    check_many()
    check_end(folder)
    shutil.rmtree(folder)
    print("doors: ok")


main()
