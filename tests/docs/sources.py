#!/usr/bin/env python3
"""What the built-in tables say of where they come from, and what was made of an inch in mm.

    sources.py PROGRAM SOURCE_FOLDER

    names      no web address and no edition that nobody read stands as a source
    mm         a tolerance of a metric table is at most the inch one, a least ligament at least; sizes agree
    letters    wherever the program prints how sure a value is, it says so in words
"""
import re
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

PROGRAM, ROOT = sys.argv[1], Path(sys.argv[2])
ADDRESS = re.compile(r"https?://|www\.|\b[\w-]+\.(?:com|co|net|org|cn|de|edu)\b(?!\w)|\.php|\.html\b", re.I)
EDITION = re.compile(r"\b\d+(?:st|nd|rd|th) ed|\(\d{4}\)|:\d{4}\b")
WORDS = {"A": "seen in two sources", "B": "seen in one source", "C": "from memory, checked by arithmetic",
         "D": "from memory, not checked"}


def sections(path):
    found = {}
    for line in path.read_text().splitlines():
        line = line.split(" ;")[0].strip()
        if line.startswith("["):
            found[line.strip("[]")] = rows = []
        elif line.startswith("row"):
            rows.append([cell.strip() for cell in line.split("=", 1)[1].split(",")])
    return found


def inch(text):
    return sum(Fraction(part) for part in text.split("-"))


def names():
    files = [*(ROOT / "data/rules").glob("*.ini"), ROOT / "docs/manual/sources.md", *(ROOT / "data/reference").glob("*/README.md")]
    for file in files:
        for number, line in enumerate(file.read_text().splitlines(), 1):
            assert not ADDRESS.search(line), f"{file}:{number}: a web address is no source"
            if file.suffix == ".ini" and line.startswith("source"):
                assert not EDITION.search(line), f"{file}:{number}: an edition that was not read: {line}"


def close(mm, exact, by, what):
    assert abs(mm - exact) <= by + Fraction(1, 10**9), f"{what}: {float(mm)} mm is not {float(exact)}"


def in_mm():
    tables = sections(ROOT / "data/rules/tema-style.ini")
    for fit in ("standard", "close"):
        for a, b in zip(tables[f"holes tube-plate {fit} inch"], tables[f"holes tube-plate {fit} metric"], strict=True):
            close(Fraction(b[2]), Fraction(a[2]) * Fraction("25.4"), Fraction("0.005"), f"hole of {a[0]} in")
            for k in (3, 4, 5):
                assert Fraction(b[k]) <= Fraction(a[k]) * Fraction("25.4"), f"{fit} {a[0]} in: {b[k]} mm is more than {a[k]} in"
    for a, b in zip(tables["holes baffle any inch"], tables["holes baffle any metric"], strict=True):
        close(Fraction(b[2]), inch(a[2]) * Fraction("25.4"), Fraction("0.05"), "clearance of a baffle")
        for k in (4, 5):
            assert Fraction(b[k]) <= Fraction(a[k]) * Fraction("25.4"), f"baffle: {b[k]} mm is more than {a[k]} in"
    for a, b in zip(tables["ligaments tube-plate inch"], tables["ligaments tube-plate metric"], strict=True):
        assert Fraction(b[2]) >= Fraction(a[2]) * Fraction("25.4"), f"ligament of {a[0]}: {b[2]} mm is less than {a[2]} in"
        close(Fraction(b[2]), Fraction(a[2]) * Fraction("25.4"), Fraction("0.005"), f"ligament of {a[0]}")


def letters():
    grades = {row[0]: row[-2:] for row in sections(ROOT / "data/rules/tema-style.ini")["holes tube-plate close inch"]}
    for tube, (size, tolerance) in grades.items():
        said = subprocess.run([PROGRAM, "rules", "tema-style", "--fit", "close", "--tube", f"{tube} in"],
                              capture_output=True, text=True, check=True).stdout
        heard = {letter for letter, words in WORDS.items() if f"(value {words}" in said or f"published, {words}" in said}
        assert heard == {size, tolerance}, f"close fit, {tube} in: {size} and {tolerance}, but it says {heard}: {said}"
    assert grades["1"][0] != "A", "the manual says that the close-fit hole of 1 in was not read"
    for file in [*(ROOT / "data/rules").glob("*.ini"), ROOT / "docs/manual/sources.md"]:
        text = file.read_text().replace("\n; ", " ")
        for words in ("from memory, not checked", "checked by"):
            assert words in text, f"{file}: letters without their words"


names()
in_mm()
letters()
print("sources are named, millimetres are never lenient, letters are said in words")
