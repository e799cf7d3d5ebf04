"""Text from outside: what reaches a terminal, what a paper says."""
import json
import shutil
import subprocess
import sys

from scene import ESC, CSI, RLO, CR, PROGRAM, SOURCE, case, keys, must_be_clean, report, run


# ---- text from outside never reaches the terminal raw ----

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


# ---- sources and words ----

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
