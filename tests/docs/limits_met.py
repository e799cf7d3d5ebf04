#!/usr/bin/env python3
"""One judge: holds src to the table "who else meets a limit" of docs/architecture.md.

    limits_met.py [FOLDER]      the project; default: the one this file is in

Fails on

    a file outside src/rules that includes base/compare.h and is not in the table, and a row that no
    file needs,
    a value held against a member called ..._limit by < or > outside src/rules, src/input (which
    holds limits of the job against each other) and what shows numbers: the allowance is in
    base/compare.h alone.
"""
import re
import sys
from pathlib import Path

from job_seen import code_of

ROW = re.compile(r"^\| `([\w/]+)` \| (search|tells|shows|lays) \|", re.M)
MEETS = re.compile(r'^#include "base/compare.h"', re.M)
BARE = re.compile(r"\s[<>]=?\s[\w.>()-]*_limit(?:\.value)?\b|_limit(?:\.value)?\s[<>]=?\s")


def faults(root):
    table = dict(ROW.findall((root / "docs" / "architecture.md").read_text(encoding="utf-8")))
    wrong, met = [], set()
    for path in sorted((root / "src").rglob("*.[ch]")):
        name = path.relative_to(root / "src")
        if name.parts[0] == "rules":
            continue
        if MEETS.search(path.read_text(encoding="utf-8")):
            met.add(str(name.with_suffix("")))
        if name.parts[0] != "input" and table.get(str(name.with_suffix(""))) != "shows":
            wrong += [f"src/{name}: '{' '.join(found.split())}': only src/rules holds a value against a limit"
                      for found in BARE.findall(code_of(path))]
    wrong += [f"src/{stem} uses base/compare.h; let src/rules judge, or say in docs/architecture.md what it is for"
              for stem in sorted(met - set(table))]
    wrong += [f"docs/architecture.md: src/{stem} does not use base/compare.h" for stem in sorted(set(table) - met)]
    return table, wrong


def main():
    root = Path(sys.argv[1] if len(sys.argv) > 1 else Path(__file__).parent.parent.parent).resolve()
    table, wrong = faults(root)
    print("\n".join(wrong + [f"{len(table)} pairs of files beside the rules meet a limit, {len(wrong)} wrong"]))
    return 1 if wrong or len(table) < 2 else 0


if __name__ == "__main__":
    sys.exit(main())
