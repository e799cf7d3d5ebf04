"""Surplus files, and folders that hang, swell or lead astray."""
import json
import os
import shutil

from scene import case, keys, report, run


# ---- surplus files and what is compared ----

@case
def surplus_files_are_told_without_a_signature(folder):
    path = report(folder)
    (path / "better-results.json").write_text("{}")
    done = run("verify", path, cwd=folder, status=0)
    assert b"better-results.json" in done.stdout


@case
def the_tool_is_compared(folder):
    path = report(folder, tool__name="somebody else's")
    done = run("verify", path, cwd=folder, status=1)
    assert b"tool.name" in done.stdout
    path = report(folder, tool__extra=1)
    assert b"tool.extra" in run("verify", path, cwd=folder, status=1).stdout


@case
def a_date_of_the_environment_is_said(folder):
    job = folder / "small.ini"
    job.write_text(job.read_text().replace("date = 2026-02-03\n", ""))
    run("inspect", "-q", "small.ini", cwd=folder, env={**os.environ, "SOURCE_DATE_EPOCH": "1700000000"})
    page = (folder / "small-report/report.html").read_text()
    assert "2023-11-14" in page and "SOURCE_DATE_EPOCH" in page, page[page.find("Report date") - 50:][:300]
    run("verify", "small-report", cwd=folder, status=0)  # on any other day


# ---- hostile folders ----

@case
def a_pipe_for_a_file_hangs_nobody(folder):
    for name in ("results.json", "signature.json", "certificate.pdf", "holes.csv", "extra"):
        path = report(folder)
        keys_there = (folder / "office.key").exists()
        if not keys_there:
            keys(folder)
        (path / name).unlink(missing_ok=True)
        os.mkfifo(path / name)
        done = run("verify", path, cwd=folder, timeout=20)
        assert done.returncode != 0 or name == "extra", (name, done.stdout)
        done = run("sign", path, "--key", "office.key", cwd=folder, timeout=20)
        assert done.returncode != 0, (name, done.stdout)
        shutil.rmtree(path)
    os.mkfifo(folder / "survey2.csv")


@case
def a_sparse_giant_is_not_hashed(folder):
    path = report(folder)
    with open(path / "giant.bin", "wb") as giant:
        giant.truncate(200 << 30)
    (path / "signature.json").write_text("{}")
    done = run("verify", path, cwd=folder, timeout=20)
    assert done.returncode == 1
    (path / "signature.json").unlink()
    keys(folder)
    done = run("sign", path, "--key", "office.key", cwd=folder, timeout=20, status=2)
    assert b"giant.bin" in done.stderr
    (path / "giant.bin").unlink()
    with open(path / "results.json", "wb") as giant:
        giant.truncate(200 << 30)
    run("verify", path, cwd=folder, timeout=20, status=3)
    shutil.rmtree(path)
    report(folder)
    (folder / "measured.csv").unlink()
    with open(folder / "measured.csv", "wb") as giant:
        giant.truncate(200 << 30)
    done = run("verify", path, cwd=folder, timeout=20, status=3)
    assert b"unopened input" in done.stdout


@case
def a_file_outside_the_jobs_folder_is_not_opened(folder):
    secret = folder.parent / "secret.csv"
    secret.write_text("hole,x,y\nTOPSECRET,1,2\n")
    inside = folder / "job"
    inside.mkdir()
    for name in ("small.ini", "nominal.csv", "measured.csv"):
        shutil.move(folder / name, inside / name)
    run("inspect", "-q", "small.ini", cwd=inside)
    path = inside / "small-report"
    for written in ("../../secret.csv", str(secret), "/etc/passwd"):
        root = json.loads((path / "results.json").read_text())
        root["inputs"][1]["file"] = written
        (path / "results.json").write_text(json.dumps(root))
        done = run("verify", path, cwd=folder, status=3)
        assert b"unopened input" in done.stdout and b"--outside" in done.stdout
        assert b"TOPSECRET" not in done.stdout + done.stderr and b"root:" not in done.stdout + done.stderr
    link = inside / "nominal.csv"
    link.unlink()
    link.symlink_to(secret)
    run("inspect", "-q", "small.ini", cwd=inside)
    assert b"TOPSECRET" not in run("verify", path, cwd=folder).stdout


@case
def no_line_of_a_foreign_file_is_quoted(folder):
    path = report(folder)
    (folder / "private.txt").write_text("the safe's number is 4711\n")
    root = json.loads((path / "results.json").read_text())
    for index in range(len(root["inputs"])):
        forged = json.loads(json.dumps(root))
        forged["inputs"][index]["file"] = "../private.txt" if index == 0 else "private.txt"
        (path / "results.json").write_text(json.dumps(forged))
        done = run("verify", path, cwd=folder)
        assert done.returncode != 0
        assert b"4711" not in done.stdout + done.stderr, done


@case
def a_sealed_folder_cannot_lead_out_of_itself(folder):
    path = report(folder)
    run("pack", path, cwd=folder, status=0)
    (folder / "private.txt").write_text("the safe's number is 4711\n")
    index = path / "inputs/index.json"
    root = json.loads(index.read_text())
    for packed in ("../../private.txt", "/etc/passwd", "..", ""):
        root["files"][1]["packed"] = packed
        index.write_text(json.dumps(root))
        done = run("verify", path, cwd=folder)
        assert b"4711" not in done.stdout + done.stderr
    target = path / "inputs/001-nominal.csv"
    root["files"][1]["packed"] = "001-nominal.csv"
    index.write_text(json.dumps(root))
    target.unlink()
    target.symlink_to(folder / "private.txt")
    done = run("verify", path, cwd=folder, status=3)
    assert b"4711" not in done.stdout + done.stderr
