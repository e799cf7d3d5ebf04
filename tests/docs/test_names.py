#!/usr/bin/env python3
"""Names of tests are sentences of one style: three words or more, none of them to say that it is a test.

    test_names.py [FOLDER]      the project; default: the one this file is in
"""
import re
import sys
from pathlib import Path

LISTED = r"\b(?:cmocka_unit_test\w*{})\(\s*(\w+)"
SHORT = re.compile(r"^#define (\w+)\((\w+)\)\s+cmocka_unit_test\w*\(\2\b.*$", re.M)  # a file's own word for listing
SENTENCE = re.compile(r"(?!tests?_)[a-z][a-z0-9]*(_[a-zA-Z0-9]+){2,}")


def listed(text):
    """the names of a file's tests"""
    own = "".join("|" + name for name, _ in SHORT.findall(text))
    return re.findall(LISTED.format(own), SHORT.sub("", text))


def main():
    root = Path(sys.argv[1] if len(sys.argv) > 1 else Path(__file__).resolve().parents[2])
    names = [(path, name) for path in sorted((root / "tests").rglob("*.c"))
             for name in listed(path.read_text(encoding="utf-8"))]
    wrong = [(path, name) for path, name in names if not SENTENCE.fullmatch(name)]
    for path, name in wrong:
        print(f"{path.relative_to(root)}: {name}: say in a sentence what holds, without a word `test`")
    print(f"{len(names)} tests, {len(wrong)} names wrong")
    sys.exit(1 if wrong or not names else 0)


main()
