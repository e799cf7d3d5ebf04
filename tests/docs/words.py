#!/usr/bin/env python3
"""The words that people read: terminal, page and papers of the demo, and of the same job in inches.

    words.py PROGRAM SOURCE_FOLDER [FOLDER]

What a shop would misread is banned, what it must read is asked for. Keys and values of JSON, CSV and job
file are for programs and stay as they are.
"""
import hashlib
import html
import json
import re
import shutil
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

PROGRAM, ROOT = str(Path(sys.argv[1]).resolve()), Path(sys.argv[2]).resolve()
SAFETY = "Local safety rules and, where required, a licensed engineer take precedence"
BANNED = {
    r"misdrilled": "overlapping or below half the minimum",
    r"\bwitnesses\b": "governing points, governing holes",
    r"(?<!drill )\bdrift\b": "drill drift, or: position wander over the job",
    r"\bdrifted\b": "wandered over the job",
    r"[Ll]ost motion(?! \(backlash\))": "lost motion (backlash)",
    r"\bas laid\b": "as supported during the survey; at rest",
    r"truly conforms": "conformance probability",
    r"\+-": "±",
    r"\bposition (?:conforms|does not conform|not \w+) largest [\d.]+ \w+,": "... out of place (position ...)",
}
ON_PAPER = {r"\b(?:DOES NOT CONFORM|CONFORMS|NOT PROVEN)\b": "capitals are for the terminal"}
IN_INCHES = {r"\b20 ?°?C\b": "68 °F", r"\d mm\b": "inches"}
TUBESHEET = {r"[Tt]ube[ -]plate": "tubesheet, the job's own word"}


def text_of_page(path):
    page = re.sub(r"(?s)<(script|style)\b.*?</\1>", " ", path.read_text())
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", page)))


def text_of_paper(path):
    done = subprocess.run(["pdftotext", str(path), "-"], capture_output=True, check=True)
    return re.sub(r"\s+", " ", done.stdout.decode())


def text_of_sheets(path):
    with zipfile.ZipFile(path) as book:
        parts = [book.read(name).decode() for name in book.namelist() if name.endswith(".xml")]
    return html.unescape(" ".join(text for part in parts for text in re.findall(r"<t\b[^>]*>([^<]*)</t>", part)))


def text_of_exchange(path):
    """What QIF has for people: names and descriptions."""
    return html.unescape(" ".join(re.findall(r"<(?:Name|Description)>([^<]*)<", path.read_text())))


def outputs(job):
    """{what: text} of everything that people read"""
    folder = job.parent / f"{job.stem}-report"
    done = subprocess.run([PROGRAM, "inspect", str(job), "--xlsx"], capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr
    found = {"terminal": re.sub(r"\s+", " ", done.stdout), "report.html": text_of_page(folder / "report.html")}
    found["results.xlsx"] = text_of_sheets(folder / "results.xlsx")
    if (folder / "results.qif").exists():
        found["results.qif"] = text_of_exchange(folder / "results.qif")
    if shutil.which("pdftotext"):
        found.update({paper.name: text_of_paper(paper) for paper in folder.glob("*.pdf")})
    return found, json.loads((folder / "results.json").read_text())


def must_not_say(texts, words):
    for what, text in texts.items():
        for pattern, instead in words.items():
            at = re.search(pattern, text)
            assert not at, f"{what} says {text[max(0, at.start() - 60):at.end() + 30]!r}; write {instead}"


def must_say(texts, words, least=1):
    for word in words:
        count = sum(word in text for text in texts.values())
        assert count >= least, f"{word!r} stands in {count} of {sorted(texts)}, not in {least}"


def demo(place):
    folder = place / "demo"
    shutil.copytree(ROOT / "data/demo", folder)
    return folder


def check_demo(folder):
    texts, results = outputs(folder / "plate.ini")
    papers = {name: text for name, text in texts.items() if name != "terminal"}
    assert set(check_papers(folder / "plate-report")) <= set(texts)
    must_not_say(texts, BANNED)
    must_not_say(papers, ON_PAPER)
    must_say(texts, ["out of place (position", "overlapping or below half the minimum", "edge ligament", "drill drift",
                     "(backlash)", "±", "as supported during the survey", "this program's own limit"])
    must_say(texts, [SAFETY], least=sum(not name.startswith(("worklist", "results.")) for name in texts))
    assert "governing holes" in texts["report.html"]
    assert "DOES NOT CONFORM" in texts["terminal"]
    assert any(SAFETY in note for note in results["holddown"]["notes"])
    if "certificate.pdf" in texts:
        assert "Inspection report" in texts["certificate.pdf"]
        assert "inspection certificate" not in texts["certificate.pdf"]
    close = re.search(r"(\d+) pairs? of holes", texts["terminal"])
    assert close and close.group(1) == "1", "one pair, whichever of its faces show it"


def check_papers(folder):
    """Every paper is a structured document with metadata, and says on every page which report it is of."""
    short = hashlib.sha256((folder / "results.json").read_bytes()).hexdigest()[:12]
    papers = sorted(folder.glob("*.pdf")) if shutil.which("pdftotext") else []
    for paper in papers:
        facts = subprocess.run(["pdfinfo", str(paper)], capture_output=True, check=True, text=True).stdout
        assert "Tagged:          yes" in facts and "Metadata Stream: yes" in facts, (paper, facts)
        pages = subprocess.run(["pdftotext", str(paper), "-"], capture_output=True, check=True).stdout.decode().split("\f")[:-1]
        assert pages and all(f"Results {short}" in page for page in pages), (paper, short)
    return [paper.name for paper in papers]


def check_clean(folder):
    texts, results = outputs(folder / "clean.ini")
    assert results["verdict"] == "conforms"
    if "certificate.pdf" in texts:
        assert "Dimensional inspection certificate" in texts["certificate.pdf"]


def check_baffle(folder):
    """Another plate, in inches, before drilling; a tenth of its holes, so that the study is short."""
    holes = folder / "baffle-nominal.csv"
    head, *rows = holes.read_text().splitlines()
    holes.write_text("\n".join([head, *rows[::10]]) + "\n")
    texts, _ = outputs(folder / "baffle.ini")
    must_not_say(texts, {**BANNED, r"\b20 ?°?C\b": "68 °F", r"tube ?plate|tubesheet": "it is a baffle"})
    must_not_say({name: text for name, text in texts.items() if name != "terminal"}, ON_PAPER)
    check_papers(folder / "baffle-report")


def check_inches(folder):
    job = folder / "inch.ini"
    text = (folder / "plate.ini").read_text()
    text = re.sub(r"(?m)^units = mm$", "units = inch", text) if "units = " in text else text.replace("[job]", "[job]\nunits = inch", 1)
    lengths = re.compile(r"(?m)^((?:diameter|thickness\w*|uncertainty\w*|flatness_limit|area_threshold|straightedge\w*|gap_limit|"
                         r"\w+_diameter|clamp_pad|shim_stock|pitch|position_limit) = )([\d., ]+)$")
    text = lengths.sub(lambda m: m.group(1) + ", ".join(f"{v.strip()} mm" for v in m.group(2).split(",")), text)
    for section in ("survey", "holes"):
        text = text.replace(f"[{section}]\n", f"[{section}]\nlength_unit = mm\n")
    text = re.sub(r"[Tt]ube plate", "tubesheet", text)
    job.write_text(text)
    texts, _ = outputs(job)
    must_not_say(texts, {**BANNED, **TUBESHEET, r"\b20 ?°?C\b": "68 °F"})


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = demo(Path(name))
        check_demo(folder)
        check_clean(folder)
        if sys.argv[3:]:  # left for the next test
            shutil.rmtree(sys.argv[3], ignore_errors=True)
            for job in ("plate", "clean"):
                shutil.copytree(folder / f"{job}-report", Path(sys.argv[3]) / f"{job}-report")
        check_baffle(folder)
        check_inches(folder)
    print("people read the words that they know")


main()
