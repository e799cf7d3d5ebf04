#!/usr/bin/env python3
"""Folders and files from somebody who wishes us ill: each case names what must not happen.

    attack.py PROGRAM SOURCE-FOLDER [CASE...]

Needs nothing but Python's standard library. Every case gets a folder of its own with the small job of
tests/cli/files in it, and a report of it that is made once.
"""

import gzip
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as tree
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


# ---- 2: text from outside never reaches the terminal raw ----

@case
def names_in_lists_and_titles_are_shown_in_letters(folder):
    texts = {name: (folder / name).read_text() for name in ("nominal.csv", "measured.csv", "small.ini")}
    for hostile in (f"A{RLO}\u2066", f"A{ESC}{CSI}{RLO}"):  # read, and refused
        for name in ("nominal.csv", "measured.csv"):
            head, first, *rest = texts[name].splitlines()
            first = f'"{hostile}",' + first.split(",", 1)[1]
            (folder / name).write_text("\n".join([head, first, *rest]) + "\n")
        (folder / "small.ini").write_text(texts["small.ini"].replace("title = Small plate", f"title = {hostile}\nplate_id = {hostile}"))
        for words in (["inspect", "small.ini"], ["holes", "small.ini", "-o", "other"], ["sample", "small.ini"],
                      ["verify", "small-report"], ["pins", "small.ini"]):
            must_be_clean_but_lists(run(*words, cwd=folder), words)
        assert (folder / "small-report").is_dir()
    keys(folder)
    words = ["sign", "small-report", "--key", "office.key"]
    must_be_clean(run(*words, cwd=folder), words)
    words = ["verify", "small-report", "--trust", "office.pub"]
    must_be_clean(run(*words, cwd=folder), words)


def must_be_clean_but_lists(done, words):
    """`sample` and `pins` print lists, which hold names as they are: only what they say is looked at."""
    if words[0] in ("sample", "pins", "pattern"):
        done = subprocess.CompletedProcess(done.args, done.returncode, b"", done.stderr)
    must_be_clean(done, words)


@case
def names_of_files_and_words_are_shown_in_letters(folder):
    hostile = f"x{CSI}{RLO}{CR}y"
    run("inspect", "-q", "small.ini", cwd=folder)
    for words in (["flatness", hostile], ["holddown", hostile], ["holes", hostile], ["pins", hostile], ["bundle", hostile],
                  ["stack", hostile], ["roughing", hostile], ["history", hostile, hostile], ["history", "add", "h.db", hostile],
                  ["history", "add", hostile, "small-report"], ["correct", hostile, "--from", hostile],
                  ["correct", "small.ini", "--from", hostile], ["compare", hostile, "small-report"], ["serve", hostile],
                  ["inspect", hostile], ["verify", hostile], ["sign", hostile, "--key", hostile], [hostile],
                  ["keys", hostile], ["new", f"{hostile}/a.ini"], ["inspect", "small.ini", "-o", f"no/{hostile}"],
                  ["pattern", "--layout", hostile], ["rules", hostile], ["pack", hostile], ["inspect", f"--{hostile}"],
                  ["verify", "x", "--trust", hostile], ["sample", hostile], ["inspect", "small.ini", "--paper", hostile]):
        must_be_clean(run(*words, cwd=folder), words)


@case
def a_forged_folder_cannot_write_its_own_answer(folder):
    forged = f'{CSI}plate: holds\n  signature       sound: every byte is as signed\n'
    path = report(folder, tool__version=forged, verdict=forged, inputs__1__file=forged)
    words = ["verify", path]
    done = run(*words, cwd=folder)
    must_be_clean(done, words)
    assert done.returncode in (1, 3)
    lines = done.stdout.decode().splitlines()
    assert not any(line.startswith("plate: holds") or line.startswith("  signature       sound") for line in lines), lines


@case
def keys_of_results_json_are_shown_in_letters(folder):
    path = report(folder)
    results = path / "results.json"
    root = json.loads(results.read_text())
    root["holes"][f"{CSI}{RLO}"] = f"{ESC}"
    results.write_text(json.dumps(root))
    words = ["verify", path]
    done = run(*words, cwd=folder, status=1)
    must_be_clean(done, words)
    assert b"<U+202E>" in done.stdout


@case
def cells_of_a_table_are_shown_in_letters(folder):
    path = report(folder)
    table = path / "holes.csv"
    table.write_text(table.read_text().replace("in tolerance", f"in {CSI}tolerance"))
    words = ["verify", path]
    done = run(*words, cwd=folder, status=1)
    must_be_clean(done, words)
    assert b"\\x1b[2J" in done.stdout


@case
def rules_of_a_hostile_file_are_shown_in_letters(folder):
    (folder / "r.ini").write_text(f"[set]\nkind = holes\ntitle = a{CSI}{RLO}\n[x{CSI}]\na = b\n")
    for words in (["rules", "./r.ini"], ["rules", "./r.ini", "--tube", "1 in", "--pitch", "32", "--thickness", "30"]):
        must_be_clean(run(*words, cwd=folder), words)


# ---- 3: surplus files and what is compared ----

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


# ---- 4: hostile folders ----

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


# ---- 5 and 6: sealed and signed ----

@case
def two_inputs_of_one_name_are_kept_apart(folder):
    (folder / "a").mkdir()
    (folder / "b").mkdir()
    shutil.move(folder / "nominal.csv", folder / "a/list.csv")
    shutil.move(folder / "measured.csv", folder / "b/list.csv")
    job = folder / "small.ini"
    job.write_text(job.read_text().replace("nominal.csv", "a/list.csv").replace("measured.csv", "b/list.csv"))
    run("inspect", "-q", "--pack", "small.ini", cwd=folder)
    away = folder / "elsewhere"
    shutil.move(folder / "small-report", away)
    for name in ("a", "b"):
        shutil.rmtree(folder / name)
    job.unlink()
    run("verify", away, cwd=folder, status=0)


@case
def a_sealed_folder_is_signed_with_its_inputs(folder):
    run("inspect", "-q", "--pack", "small.ini", cwd=folder)
    keys(folder)
    run("sign", "small-report", "--key", "office.key", cwd=folder, status=0)
    run("pack", "small-report", cwd=folder, status=0)  # nothing to do, nothing done
    run("verify", "small-report", "--trust", "office.pub", cwd=folder, status=0)
    with open(folder / "small-report/inputs/002-measured.csv", "a") as file:
        file.write(" ")
    done = run("verify", "small-report", "--trust", "office.pub", cwd=folder, status=1)
    assert b"inputs/002-measured.csv: changed since it was signed" in done.stdout


@case
def a_key_in_the_folder_is_refused(folder):
    path = report(folder)
    keys(folder)
    shutil.copy(folder / "office.key", path / "office.key")
    done = run("sign", path, "--key", path / "office.key", cwd=folder, status=2)
    assert b"given away" in done.stderr
    run("keys", path / "mine", "--no-passphrase", cwd=folder, status=2)


@case
def a_signed_folder_is_not_replaced_unasked(folder):
    path = report(folder)
    keys(folder)
    run("sign", path, "--key", "office.key", cwd=folder, status=0)
    before = (path / "signature.json").read_bytes()
    run("inspect", "small.ini", cwd=folder, status=2)
    assert (path / "signature.json").read_bytes() == before
    run("inspect", "-q", "small.ini", "--replace-signed", cwd=folder)
    assert not (path / "signature.json").exists()


@case
def what_does_not_hold_is_not_signed(folder):
    path = report(folder, verdict="does not conform")
    keys(folder)
    run("sign", path, "--key", "office.key", cwd=folder, status=1)
    assert not (path / "signature.json").exists()
    run("sign", path, "--key", "office.key", "--as-is", cwd=folder, status=0)
    done = run("verify", path, "--trust", "office.pub", cwd=folder, status=1)
    assert b"not recomputed" in done.stdout


@case
def a_fact_beside_a_signature_cannot_be_changed(folder):
    path = report(folder)
    keys(folder)
    run("sign", path, "--key", "office.key", "--role", "customer", cwd=folder, status=0)
    signature = path / "signature.json"
    text = signature.read_text()
    root = json.loads(text)
    for key in ("name", "role", "time", "verdict", "recomputed"):
        forged = json.loads(text)
        forged["signatures"][0][key] = "other"
        signature.write_text(json.dumps(forged, indent=2))
        done = run("verify", path, "--trust", "office.pub", cwd=folder, status=1)
        assert b"NOT SOUND" in done.stdout, key
    forged = json.loads(text)
    forged["signatures"][0]["report"] = "R-1\nverdict conforms"
    signature.write_text(json.dumps(forged, indent=2))
    assert b"NOT SOUND" in run("verify", path, cwd=folder, status=1).stdout
    assert root["signatures"][0]["role"] == "customer"


@case
def another_font_set_makes_the_same_certificate(folder):
    """As a second user's account: no home, no font configuration, no fonts installed."""
    path = report(folder)
    keys(folder)
    run("sign", path, "--key", "office.key", cwd=folder, status=0)
    (folder / "fonts.conf").write_text('<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig>'
                                       f'<dir>{folder}/nofonts</dir><cachedir>{folder}/cache</cachedir></fontconfig>')
    other = {"PATH": os.environ["PATH"], "HOME": str(folder / "nobody"), "FONTCONFIG_FILE": str(folder / "fonts.conf"),
             "LANG": "C", **{k: v for k, v in os.environ.items() if k.startswith(("ASAN", "LSAN", "UBSAN", "OPENBLAS"))}}
    run("verify", path, "--trust", "office.pub", cwd=folder, status=0, env=other)


@case
def a_title_cannot_push_the_verdict_off_the_page(folder):
    job = folder / "small.ini"
    long = f"title = {'conforms ' * 19}{RLO}\nserial = {'9' * 150}\nplate_id = \u05d0\u05d1 12"
    job.write_text(job.read_text().replace("title = Small plate", long))
    measured = folder / "measured.csv"
    measured.write_text(measured.read_text().replace("A2,32.017", "A2,33.017"))
    run("inspect", "-q", "small.ini", cwd=folder, status=1)
    page = (folder / "small-report/report.html").read_text()
    assert RLO not in page and "\u2068\u05d0\u05d1\u2069 12" in page  # isolated
    if not shutil.which("pdftotext"):
        return
    assert (folder / "small-report/certificate.pdf").read_bytes()[:5] == b"%PDF-"
    text = subprocess.run(["pdftotext", "-l", "1", folder / "small-report/certificate.pdf", "-"], capture_output=True,
                          check=True).stdout.decode()
    assert "Verdict:" in text and "\u202e" not in text, text
    assert text.index("Verdict:") < text.index("Identification")
    assert "Verdict: does not conform" in text
    for paper in (folder / "small-report").glob("*.pdf"):
        must_say_its_report_on_every_page(paper)


def must_say_its_report_on_every_page(paper):
    """And be a structured document with metadata."""
    facts = subprocess.run(["pdfinfo", paper], capture_output=True, check=True).stdout.decode()
    assert "Tagged:          yes" in facts and "Metadata Stream: yes" in facts, (paper, facts)
    short = hashlib.sha256((paper.parent / "results.json").read_bytes()).hexdigest()[:12]
    pages = subprocess.run(["pdftotext", paper, "-"], capture_output=True, check=True).stdout.decode().split("\f")[:-1]
    assert pages and all(f"Results {short}" in page for page in pages), (paper, short)


# ---- 1: what verify says it verified ----

@case
def three_answers_are_kept_apart_and_the_signature_comes_first(folder):
    path = report(folder)
    keys(folder)
    run("sign", path, "--key", "office.key", cwd=folder, status=0)
    for name in ("small.ini", "nominal.csv", "measured.csv"):
        (folder / name).unlink()
    said = run("verify", path, "--trust", "office.pub", cwd=folder).stdout.decode()
    at = [said.index(word) for word in ("report ", "signature ", "recomputation ", "pages ")]
    assert at == sorted(at) and "DOES NOT HOLD" not in said, said
    run("verify", path, "--trust", "office.pub", "--signature-only", cwd=folder, status=0)
    table = path / "holes.csv"
    table.write_text(table.read_text() + "\n")
    run("verify", path, "--trust", "office.pub", "--signature-only", cwd=folder, status=1)


@case
def verify_says_which_report_it_verified_and_who_signed_when(folder):
    job = folder / "small.ini"
    job.write_text(job.read_text().replace("date =", "report_number = R-7\nreport_revision = B\nplate_id = P-1\ndate ="))
    path = report(folder)
    keys(folder)
    run("sign", path, "--key", "office.key", "--role", "third-party", cwd=folder, status=0)
    said = run("verify", path, "--trust", "office.pub", cwd=folder, status=0).stdout.decode()
    for words in ("R-7", "revision B", "plate P-1", "conforms", '"office", third party', "Z, to", "a trusted one"):
        assert words in said, (words, said)
    assert re.search(r"20\d\d-\d\d-\d\dT\d\d:\d\d:\d\dZ", said), said
    root = json.loads(run("verify", path, "--trust", "office.pub", "--json", cwd=folder, status=0).stdout)
    assert root, "the same for programs"


@case
def exit_statuses_are_documented(folder):
    for command in ("verify", "sign"):
        said = run(command, "--help", cwd=folder, status=0).stdout.decode()
        assert all(f"{status} " in said[said.index("Exit status"):] for status in (0, 1, 2, 3)), said
    assert "EXIT STATUS" in (SOURCE / "docs/plateproof.1").read_text()


# ---- another account ----

@case
def a_second_user_with_other_fonts_verifies_it(folder):
    """The account `nobody`, at home nowhere, with one font that the certificate is not set in."""
    if os.geteuid() != 0:
        return print("a_second_user_with_other_fonts_verifies_it: skipped, needs root to be another user")
    report(folder)
    keys(folder)
    run("pack", "small-report", cwd=folder, status=0)
    run("sign", "small-report", "--key", "office.key", cwd=folder, status=0)
    fonts = sorted(Path("/usr/share/fonts").rglob("*[Mm]ono*.ttf"))[:1]
    (folder / "fonts").mkdir()
    for font in fonts:
        shutil.copy(font, folder / "fonts")
    (folder / "fonts.conf").write_text('<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig>'
                                       f'<dir>{folder}/fonts</dir><cachedir>/nowhere</cachedir></fontconfig>')
    for place in (folder.parent, folder, *folder.rglob("*")):
        place.chmod(0o755 if place.is_dir() else 0o644)
    program = folder / "plateproof"  # the build may lie where nobody may look
    shutil.copy(PROGRAM, program)
    program.chmod(0o755)
    other = {"PATH": "/usr/bin:/bin", "HOME": "/nonexistent", "FONTCONFIG_FILE": str(folder / "fonts.conf"), "LANG": "C",
             **{k: v for k, v in os.environ.items() if k.startswith(("ASAN", "LSAN", "UBSAN", "OPENBLAS"))}}
    done = subprocess.run([program, "verify", "small-report", "--trust", "office.pub"], cwd=folder, env=other,
                          capture_output=True, timeout=60, user=65534, group=65534, extra_groups=[])
    assert done.returncode == 0, (done.stdout, done.stderr)
    assert b"pages           hold" in done.stdout, done.stdout


# ---- 6: who signs, with what, and until when ----

@case
def several_sign_each_in_a_role_and_a_revoked_key_never_counts(folder):
    path = report(folder)
    for name in ("office", "customer"):
        keys(folder, name)
    run("sign", path, "--key", "office.key", cwd=folder, status=0)
    run("sign", path, "--key", "customer.key", "--role", "customer", cwd=folder, status=0)
    both = folder / "both.pub"
    both.write_text((folder / "office.pub").read_text() + (folder / "customer.pub").read_text())
    said = run("verify", path, "--trust", both, cwd=folder, status=0).stdout
    assert b'"office", inspector' in said and b'"customer", customer' in said
    signature = path / "signature.json"
    root = json.loads(signature.read_text())
    for entry in root["signatures"]:
        entry["time"] = "2001-01-01T00:00:00Z"  # long before it was lost, says the thief
    for text in (signature.read_text(), json.dumps(root)):
        signature.write_text(text)
        said = run("verify", path, "--trust", both, "--revoked", "office.pub", cwd=folder, status=1).stdout
        assert b"DOES NOT HOLD" in said, said


@case
def a_key_with_a_passphrase_is_nothing_without_it(folder):
    path = report(folder)
    (folder / "words").write_text("four quiet grey herons\n")
    (folder / "others").write_text("four quiet grey heron\n")
    run("keys", "-q", "office", "--passphrase", "words", cwd=folder, status=0)
    assert run("sign", path, "--key", "office.key", cwd=folder).returncode != 0  # nobody is there to be asked
    done = run("sign", path, "--key", "office.key", "--passphrase", "others", cwd=folder)
    assert done.returncode != 0 and not (path / "signature.json").exists()
    run("sign", path, "--key", "office.key", "--passphrase", "words", cwd=folder, status=0)


@case
def signatures_of_the_first_version_still_verify(folder):
    shutil.copytree(SOURCE / "tests/corpus/signed-0.1.0", folder / "old")
    said = run("verify", "old", "--signature-only", cwd=folder, status=0).stdout
    assert b"sound: every byte is as signed" in said
    with open(folder / "old/holes.csv", "a") as file:
        file.write(" ")
    run("verify", "old", "--signature-only", cwd=folder, status=1)


# ---- 5, 6: a bundle's folder ----

@case
def a_packed_bundle_is_signed_and_recomputed_anywhere(folder):
    shop = folder / "bundle"
    shutil.copytree(SOURCE / "data/demo-bundle", shop)
    assert run("bundle", "-q", "set.ini", cwd=shop).returncode == 1
    run("pack", "set-report", cwd=shop, status=0)
    assert run("bundle", "-q", "--pack", "set.ini", "-o", "at-once", cwd=shop).returncode == 1
    files = {p.relative_to(shop / "set-report"): p.read_bytes() for p in (shop / "set-report").rglob("*") if p.is_file()}
    assert files == {p.relative_to(shop / "at-once"): p.read_bytes() for p in (shop / "at-once").rglob("*") if p.is_file()}
    if shutil.which("pdftotext"):
        must_say_its_report_on_every_page(shop / "set-report/fitters-sheet.pdf")
    keys(folder)
    run("sign", "set-report", "--key", "../office.key", cwd=shop, status=0)
    assert run("bundle", "-q", "set.ini", cwd=shop).returncode == 2, "a signed report is not replaced unasked"
    shutil.copytree(shop / "set-report", folder / "sent")
    assert run("bundle", "-q", "--replace-signed", "set.ini", cwd=shop).returncode == 1
    shutil.rmtree(shop)
    said = run("verify", "sent", "--trust", "office.pub", cwd=folder, status=0).stdout
    assert b"in the folder" in said, said
    packed = next((folder / "sent/inputs").glob("*-b2.csv"))
    packed.write_text(packed.read_text() + "\n")
    assert run("verify", "sent", "--trust", "office.pub", cwd=folder).returncode == 1


@case
def a_packed_stack_is_signed_and_recomputed_anywhere(folder):
    shop = folder / "stack"
    shutil.copytree(SOURCE / "data/demo-stack", shop)
    run("stack", "-q", "drilled.ini", "--pack", "-o", "report", cwd=shop, status=0)
    keys(folder)
    run("sign", "report", "--key", "../office.key", cwd=shop, status=0)
    shutil.move(shop / "report", folder / "sent")
    shutil.rmtree(shop)
    run("verify", "sent", "--trust", "office.pub", cwd=folder, status=0)
    packed = next((folder / "sent/inputs").glob("*-ada-holes.csv"))
    packed.write_text(packed.read_text() + "\n")
    assert run("verify", "sent", "--trust", "office.pub", cwd=folder).returncode == 1


# ---- 8: the exchange file ----

QIF = "{http://qifstandards.org/xsd/qif3}"


def statuses(document, kind):
    found = document.iter(f"{QIF}{kind}CharacteristicMeasurement")
    return [m.find(f"{QIF}Status/*").text for m in found]


@case
def a_broken_share_is_seen_in_the_qif(folder):
    """Every hole within its outermost limits, too many of them beyond the standard ones."""
    (folder / "measured.csv").write_text(
        "".join(line.rsplit(",", 1)[0] + ",25.80\n" if "," in line and not line.startswith("hole") else line + "\n"
                for line in (folder / "measured.csv").read_text().splitlines()))
    run("inspect", "-q", "small.ini", cwd=folder, status=1)
    document = tree.parse(folder / "small-report/results.qif").getroot()
    assert set(statuses(document, "Diameter")) == {"PASS"}, statuses(document, "Diameter")
    assert "FAIL" in statuses(document, "UserDefinedUnit")
    assert document.find(f".//{QIF}InspectionStatus/*").text == "FAIL"


@case
def a_name_cannot_become_an_element_of_the_qif(folder):
    lie = "</Name></DiameterCharacteristicItem><x a='&\"'"
    for name in ("nominal.csv", "measured.csv"):
        path = folder / name
        path.write_text(path.read_text().replace("A1,", '"' + lie.replace('"', '""') + '",'))
    run("inspect", "-q", "small.ini", cwd=folder)
    document = tree.parse(folder / "small-report/results.qif").getroot()
    names = [n.text for n in document.iter(f"{QIF}Name")]
    assert lie in names, names[:5]


@case
def a_changed_qif_is_seen_packed_or_not(folder):
    path = report(folder)
    plain = (path / "results.qif").read_bytes()
    (path / "results.qif").write_bytes(plain.replace(b">FAIL<", b">PASS<").replace(b">PASS<", b">FAIL<", 1))
    assert b"results.qif" in run("verify", path, cwd=folder, status=1).stdout
    run("inspect", "-q", "small.ini", "--qif-gz", cwd=folder)
    assert not (path / "results.qif").exists()
    run("verify", path, cwd=folder, status=0)
    whole = gzip.decompress((path / "results.qif.gz").read_bytes())
    packed = gzip.compress(whole, 9, mtime=1)  # by another program: the same text
    lies = {"another": gzip.compress(whole.replace(b">PASS<", b">FAIL<", 1)), "cut short": packed[:-200],
            "more behind": packed + b"x", "more within": gzip.compress(whole + b"x"), "no gzip": whole,
            "a bomb": gzip.compress(whole + bytes(300_000_000), 1)}
    (path / "results.qif.gz").write_bytes(packed)
    run("verify", path, cwd=folder, status=0)
    for name, lie in lies.items():
        (path / "results.qif.gz").write_bytes(lie)
        done = run("verify", path, cwd=folder, timeout=20)
        assert done.returncode == 1 and b"results.qif.gz" in done.stdout, (name, done.stdout)
    (path / "results.qif.gz").write_bytes(packed)
    (path / "results.qif").write_bytes(plain)  # two, of which a reader may take either
    assert b"results.qif.gz" in run("verify", path, cwd=folder, status=1).stdout


# ---- 9, 10: sources and words ----

@case
def no_web_address_and_no_lenient_rounding_in_the_rules(folder):
    subprocess.run([sys.executable, SOURCE / "tests/docs/sources.py", PROGRAM, SOURCE], check=True, stdout=subprocess.DEVNULL)


@case
def a_plate_that_fails_has_no_certificate(folder):
    measured = folder / "measured.csv"
    measured.write_text(measured.read_text().replace("A2,32.017", "A2,33.017"))
    done = run("inspect", "small.ini", cwd=folder, status=1)
    assert b"out of place (position" in done.stdout
    if not shutil.which("pdftotext"):
        return
    text = subprocess.run(["pdftotext", folder / "small-report/certificate.pdf", "-"], capture_output=True, check=True).stdout
    assert b"Inspection report" in text and b"inspection certificate" not in text


def main():
    wanted = sys.argv[3:] or list(CASES)
    bad = 0
    for name in wanted:
        place = Path(tempfile.mkdtemp(prefix="attack-"))
        folder = place / "shop"
        shutil.copytree(SOURCE / "tests/cli/files", folder)
        try:
            CASES[name](folder)
        except Exception as problem:  # every case is tried
            bad += 1
            print(f"{name}: {type(problem).__name__}: {problem}"[:2000])
        finally:
            shutil.rmtree(place, ignore_errors=True)
    print(f"{len(wanted) - bad} of {len(wanted)} attacks fail as they should")
    return bad != 0


sys.exit(main())
