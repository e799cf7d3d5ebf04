"""Sealed and signed folders, of a plate, a bundle and a stack; another account."""
import hashlib
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

from scene import RLO, PROGRAM, SOURCE, case, keys, report, run


# ---- sealed and signed ----

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


# ---- what verify says it verified ----

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


# ---- who signs, with what, and until when ----

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


# ---- a bundle's folder ----

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
