#!/usr/bin/env python3
"""Every column of the CSVs that go out stands in the manual, in its order.

    columns.py [FOLDER]      the project; default: the one this file is in
"""
import re
import sys
from pathlib import Path


def written(root):
    """{file: columns}, from the headers that the program writes."""
    source = "".join((root / "src/report" / name).read_text(encoding="utf-8") for name in ("tables/csvout.c", "bundle/bundle_tables.c"))
    found = {}
    for name, texts in re.findall(r'\{"(\w+\.csv)",\s*((?:"[^"]*"\s*)+)', source):
        found[name] = "".join(re.findall(r'"([^"]*)"', texts)).replace("\\n", "").split(",")
    return found


def documented(root):
    """{file: columns}, from the table of the manual."""
    page = (root / "docs/manual/reports.md").read_text(encoding="utf-8")
    section = page.split("### Their columns", 1)[-1].split("\n## ", 1)[0]
    found, name = {}, None
    for line in section.split("\n"):
        cells = [c.strip() for c in line.strip("|").split("|")]
        if not line.startswith("|") or len(cells) != 3:
            continue
        files = re.findall(r"`(\w+\.csv)`", cells[0])
        name = files[0] if files else name
        if name:
            found.setdefault(name, []).extend(re.findall(r"`(\w+)`", cells[1]))
    return found


def main():
    root = Path(sys.argv[1] if len(sys.argv) > 1 else Path(__file__).parent.parent.parent).resolve()
    program, manual = written(root), documented(root)
    wrong = [f"{name}: written {program.get(name)}, in the manual {manual.get(name)}"
             for name in sorted(program.keys() | manual.keys()) if program.get(name) != manual.get(name)]
    print("\n".join(wrong + [f"{len(program)} files, {sum(map(len, program.values()))} columns, {len(wrong)} wrong"]))
    return 1 if wrong or not program else 0


if __name__ == "__main__":
    sys.exit(main())
