#!/usr/bin/env python3
"""The job page's answers: keys, check, edit, save, conflict, how files are read.

    form.py PROGRAM SOURCE
"""
import json
import os
import shutil
import stat
import subprocess
import sys
import threading

from screen import Screen, folder_of_demo

PROGRAM, SOURCE = sys.argv[1], sys.argv[2]


def post(screen, address, **values):
    status, _, data = screen.ask("POST", address, json.dumps(values))
    return status, json.loads(data) if data else None


def check_keys(screen, folder):
    """The form has every key that the starter file has, and no other."""
    subprocess.run([PROGRAM, "new", folder / "starter.ini", "-q"], check=True)
    section, known = None, set()
    for line in (folder / "starter.ini").read_text().splitlines():
        line = line.strip().removeprefix("; ").removeprefix(";")
        if line.startswith("[") and "]" in line:
            section = line[1:line.index("]")].split(" ")[0]
        elif section and "=" in line and " " not in line.split("=")[0].strip():
            known.add((section, line.split("=")[0].strip()))
    told = {(s["name"], k["key"]) for s in screen.json("/api/keys")["sections"] for k in s["keys"]}
    missing = {k for k in known if k not in told}
    assert len(told) > 100 and not missing, missing


def check_check(screen, folder):
    text = "[plate]\noutline = disc\ndiameter = 2400\n[survey]\nfile = survey.csv\n"
    status, answer = post(screen, "/api/check", job="demo/new.ini", text=text)
    assert status == 200 and answer["problems"] == [] and answer["text"] == text
    assert answer["sections"][0]["entries"][1] == {"key": "diameter", "value": "2400", "line": 3}
    for line, wrong in ((3, text.replace("2400", "24,00")), (3, text.replace("diameter", "diametr")), (5, text.replace("survey.csv", "/etc/passwd"))):
        status, answer = post(screen, "/api/check", job="demo/new.ini", text=wrong)
        assert status == 200 and [p["line"] for p in answer["problems"]] == [line], answer["problems"]
    (folder / "demo/comma.ini").write_text(text.replace("2400", "24,00"))
    done = subprocess.run([PROGRAM, "flatness", folder / "demo/comma.ini"], capture_output=True, text=True)
    _, answer = post(screen, "/api/check", job="demo/new.ini", text=text.replace("2400", "24,00"))
    assert answer["problems"][0]["text"] in done.stderr, "the terminal says the same"


def lines_told(screen, text):
    return [p["line"] for p in post(screen, "/api/check", job="demo/new.ini", text=text)[1]["problems"]]


def check_all_problems(screen):
    """Every mistake is told at once, and none that only comes of another one."""
    several = "[plate]\noutline = dsic\ndiameter = 24,00\nthikness = 30\n[servey]\nfile = x.csv\n[holes]\npitch = wide\npitch = 3\n"
    assert sorted(lines_told(screen, several)) == [2, 3, 4, 5, 8, 9], lines_told(screen, several)
    # keys that contradict each other, once each of them can be read
    against = "[plate]\nwidth = 500\nheight = 300\n[survey]\nfile = s.csv\nlaid = on-three-points\n[holes]\nalign = two-holes\n[foot]\nouter_diameter = 100\n"
    assert sorted(lines_told(screen, against)) == [2, 3, 6, 8, 10], lines_told(screen, against)
    # lines that are no job file's; what stands below a broken heading is not taken for its neighbour's
    broken = "[plate]\noutline disc\n[survey\nfile = s.csv\nmore\n"
    assert lines_told(screen, broken) == [2, 3, 5], lines_told(screen, broken)
    many = "[plate]\n" + "".join(f"wrong{i} = 1\n" for i in range(60))
    assert len(lines_told(screen, many)) == 21, "twenty, and that there may be more"


def check_limits(screen):
    """What a job will be held against, with the source, before anything is measured."""
    text = "[holes]\nnominal = nominal.csv\ntube_diameter = 1 in\npitch = 31.75\nposition_limit = 0.4\n[plate]\nthickness = 30\n"
    _, told = post(screen, "/api/limits", job="demo/new.ini", text=text)
    found = {limit["words"]: limit for limit in told["limits"]}
    rules = subprocess.run([PROGRAM, "rules", "tema-style", "--tube", "1 in", "--pitch", "31.75", "--thickness", "30"],
                           capture_output=True, text=True, check=True).stdout
    assert found["hole, nominal diameter"]["value"].split()[0] in rules and "tema-style" in found["ligament, standard"]["source"], found
    assert any(limit["source"] == "job file, line 5" and limit["value"] == "0.400 mm" for limit in told["limits"])
    assert post(screen, "/api/limits", job="demo/new.ini", text=text.replace("31.75", "3,2,")) == (200, {"limits": []})
    assert "no row for tubes" in post(screen, "/api/limits", job="demo/new.ini", text=text.replace("31.75", "32"))[1]["lacks"]
    assert post(screen, "/api/limits", job="demo/new.ini", text="[rules]\nset = /etc/passwd\n") == (200, {"limits": []})


def check_edit_and_save(screen, folder):
    path = folder / "demo/plate.ini"
    before = path.read_text()
    path.chmod(0o640)
    status, file = post(screen, "/api/job", job="demo/plate.ini")
    assert status == 200 and file["text"] == before
    status, edited = post(screen, "/api/edit", job="demo/plate.ini", text=before, section="holes", key="position_limit", value="0.5")
    assert status == 200 and edited["problems"] == []
    old, new = before.splitlines(), edited["text"].splitlines()
    assert len(old) == len(new) and sum(a != b for a, b in zip(old, new)) == 1, "one line changes"
    status, saved = post(screen, "/api/save", job="demo/plate.ini", text=edited["text"], version=file["version"])
    assert status == 200 and path.read_text() == edited["text"]
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    path.write_text(edited["text"] + "; by hand\n")  # somebody edits it meanwhile
    status, clash = post(screen, "/api/save", job="demo/plate.ini", text="mine", version=saved["version"])
    assert status == 409 and clash["conflict"] == edited["text"] + "; by hand\n"
    assert path.read_text() == edited["text"] + "; by hand\n", "nothing is lost"
    status, _ = post(screen, "/api/save", job="demo/plate.ini", text=before, version=clash["version"])
    assert status == 200 and path.read_text() == before
    assert post(screen, "/api/save", job="demo/plate.ini", text="x", version=None)[0] == 409, "a new file replaces none"
    status, _ = post(screen, "/api/save", job="demo/brand-new.ini", text=before, version=None)
    assert status == 200 and (folder / "demo/brand-new.ini").read_text() == before
    assert not [p for p in (folder / "demo").iterdir() if p.name.startswith(".")], "no temporary file is left"


def check_places(screen, folder):
    outside = folder.parent / (folder.name + "-victim.ini")
    outside.write_text("[plate]\n")
    os.symlink(outside, folder / "demo/out.ini")
    os.symlink(folder.parent, folder / "up")
    for job in ("../" + outside.name, str(outside), "up/" + outside.name, "demo/.hidden.ini", "demo/x.csv", "demo/measured.csv", "x.ini/y.ini",
                "nowhere/x.ini", "", None):
        status, _ = post(screen, "/api/save", job=job, text="[plate]\n", version=None)
        assert status in (400, 404, 409, 422), (job, status)
    post(screen, "/api/save", job="demo/out.ini", text="[survey]\n", version=None)  # a link is replaced, not followed
    assert outside.read_text() == "[plate]\n"
    assert not (folder / "demo/x.csv").exists()
    outside.unlink()
    if os.geteuid() != 0:
        (folder / "demo").chmod(0o500)
        status, answer = post(screen, "/api/save", job="demo/no.ini", text="[plate]\n", version=None)
        assert status == 404 and "cannot be saved" in answer["problem"]
        (folder / "demo").chmod(0o700)


def check_race(screen, folder):
    """Of many who save from the same version at once, one wins and the others are told."""
    _, file = post(screen, "/api/job", job="demo/clean.ini")
    seen = []
    crowd = [threading.Thread(target=lambda i=i: seen.append(post(screen, "/api/save", job="demo/clean.ini", text=f"; {i}\n" + file["text"], version=file["version"])[0]))
             for i in range(8)]
    [t.start() for t in crowd]
    [t.join() for t in crowd]
    assert sorted(seen) == [200] + [409] * 7, seen


def check_files(screen, folder):
    data = folder / "demo/messung.csv"
    data.write_text("Bohrung;X-Ist;Y-Ist;Durchmesser;Bemerkung\n" + "".join(f"H{i};{i * 31},75;0,5;25,70;ok\n" for i in range(5)))
    text = ("[plate]\noutline = disc\ndiameter = 2400\n[holes]\nnominal = nominal.csv\nmeasured = messung.csv\n"
            "measured_columns = Bohrung:hole, X-Ist:x, Y-Ist:y, Durchmesser:diameter\n")
    (folder / "demo/german.ini").write_text(text)
    status, answer = post(screen, "/api/files", job="demo/german.ini")
    assert status == 200, answer
    files = {f["role"]: f for f in answer["files"]}
    assert set(files) == {"nominal", "measured"}
    measured = files["measured"]
    assert measured["delimiter"] == ";" and measured["decimal"] == "," and measured["header_line"] == 1, measured
    assert [c["column"] for c in measured["used"]] == ["hole", "x", "y", "diameter"] and all(c["mapped"] for c in measured["used"])
    assert measured["ignored"] == ["Bemerkung"]
    assert measured["first"][0].startswith("Bohrung;X-Ist")
    assert files["nominal"]["rows"] > 4000 and files["nominal"]["problems"] == []
    data.write_text("hole,x\nA,1\n\x1b[31mB,zwei\n")
    _, answer = post(screen, "/api/files", job="demo/german.ini")
    assert {f["role"]: f for f in answer["files"]}["measured"]["problems"], "it says why it is refused"
    assert "\\u001b" not in json.dumps(answer)


def check_picture(screen, folder):
    """Holes as measured laid on those of the drawing by the stages of a run; the report says the same."""
    (folder / "pic").mkdir()
    holes = [(f"A{i}", 40.0 * (i % 5), 40.0 * (i // 5) + (3 if i == 0 else 0)) for i in range(20)]
    (folder / "pic/nominal.csv").write_text("hole,x,y\n" + "".join(f"{n},{x},{y}\n" for n, x, y in holes))
    turned = [(n, 30 - y, x - 20) for n, x, y in holes]  # a quarter turn and a shift, one not measured, one that nobody drew
    (folder / "pic/measured.csv").write_text("hole,x,y,diameter\n" + "".join(f"{n},{x},{y},25.7\n" for n, x, y in turned[:-1]) + "Z9,-45,30,25.7\n")
    text = ("[plate]\noutline = rectangle\nwidth = 400\nheight = 400\ncentre = 80, 60\n"
            "[holes]\nnominal = nominal.csv\nmeasured = measured.csv\nalign = best-fit\n")
    status, told = post(screen, "/api/picture", job="pic/new.ini", text=text)
    assert status == 200, told
    counts = {kind: told[kind]["count"] for kind in ("drawn", "found", "strange", "missing")}
    assert counts == {"drawn": 20, "found": 19, "strange": 1, "missing": 1}, counts
    places = [(x / 100, y / 100) for x, y in zip(told["found"]["at"][::2], told["found"]["at"][1::2])]
    assert all(abs(x - nx) < 0.011 and abs(y - ny) < 0.011 for (x, y), (_, nx, ny) in zip(places, holes)), places
    frame = told["frame"]
    assert abs(frame["angle_deg"] + 90) < 1e-6 and abs(frame["dx"] - 20) < 1e-6 and abs(frame["dy"] - 30) < 1e-6, frame
    assert frame["words"].startswith("20 rows matched by name, 0 by place."), frame
    assert len(told["outline"]) == 1 and max(told["outline"][0]) == 28000
    (folder / "pic/new.ini").write_text(text)
    done = subprocess.run([PROGRAM, "holes", folder / "pic/new.ini", "--json"], capture_output=True, text=True)
    alignment = json.loads(done.stdout)["holes"]["alignment"]
    assert abs(alignment["angle_deg"] - frame["angle_deg"]) < 1e-9 and abs(alignment["rms"] - frame["rms"]) < 1e-9
    # what can't be laid on the drawing is shown as it stands, with why
    (folder / "pic/measured.csv").write_text("hole,x,y,diameter\nA1,40,0,25.7\n")
    _, told = post(screen, "/api/picture", job="pic/new.ini")
    assert told["unplaced"] == {"at": [4000, 0], "count": 1} and told["why"] and "found" not in told, told
    # and what can't be read is left out: its problems stand beside it
    (folder / "pic/measured.csv").write_text("hole,x\nA1,here\n")
    _, told = post(screen, "/api/picture", job="pic/new.ini")
    assert "unplaced" not in told and told["drawn"]["count"] == 20, told
    assert post(screen, "/api/picture", job="pic/new.ini", text="[holes]\nnominal = /etc/passwd\n") == (200, {"outline": []})
    shutil.rmtree(folder / "pic")


def main():
    folder = folder_of_demo(SOURCE)
    screen = Screen(PROGRAM, folder)
    screen.enter()
    check_keys(screen, folder)
    check_check(screen, folder)
    check_all_problems(screen)
    check_picture(screen, folder)
    check_limits(screen)
    check_edit_and_save(screen, folder)
    check_race(screen, folder)
    check_places(screen, folder)
    check_files(screen, folder)
    status, _, wrong = screen.end()
    assert status == 0 and wrong == "", wrong
    shutil.rmtree(folder)
    print("form: ok")


main()
