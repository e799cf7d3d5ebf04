#!/usr/bin/env python3
"""Kernels are told what they need, not the whole job: holds the rooms that reckon to the table "who
may see the job" of docs/architecture.md.

    job_seen.py [FOLDER]      the project; default: the one this file is in

Fails on

    a file of those rooms that names pp_job and is not in the table, and a row that has no such file,
    a file of options with a function that takes the job and is not called ..._of,
    a copy of a job anywhere in src.
"""
import re
import sys
from pathlib import Path

MAY_ALL = ("input", "rules", "answer", "report", "verify", "run", "serve", "cli")  # they read, judge, say or steer
ROW = re.compile(r"^\| `([\w/]+)` \| (stage|check|reader|options) \|$", re.M)
SEES = re.compile(r"\bpp_job\b|\bjob->")
TAKES = re.compile(r"\b(\w+)\s*\(\s*const pp_job \*")
COPY = re.compile(r"\bpp_job\s+\w+\s*=\s*\*|^\s*\*\w+\s*=\s*\*\s*[\w>.-]*\bjob;", re.M)


def code_of(path):
    text = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.S)
    return re.sub(r'"(?:\\.|[^"\\])*"', '""', text)


def faults(root):
    table = dict(ROW.findall((root / "docs" / "architecture.md").read_text(encoding="utf-8")))
    wrong, seen = [], set()
    for path in sorted((root / "src").rglob("*.[ch]")):
        name = path.relative_to(root / "src")
        text = code_of(path)
        if COPY.search(text):
            wrong.append(f"src/{name} makes a copy of a job; give what it is handed to other options")
        if name.parts[0] in MAY_ALL or not SEES.search(text):
            continue
        stem = str(name.with_suffix(""))
        seen.add(stem)
        if stem not in table:
            wrong.append(f"src/{name} sees the job, and docs/architecture.md does not say that it may")
        elif table[stem] == "options":
            wrong += [f"src/{name}: {f} takes the job; only a function ..._of may, or it gets a spec"
                      for f in TAKES.findall(text) if not (f.endswith("_of") or is_part_of_one(text, f))]
    wrong += [f"docs/architecture.md: no file src/{stem} sees the job" for stem in sorted(set(table) - seen)]
    return table, wrong


def is_part_of_one(text, function):
    """A static function of a file's own, called by nothing but an ..._of."""
    if not re.search(rf"\bstatic\b[^;{{}}]*\b{function}\s*\(", text):
        return False
    owner = None
    for line in text.split("\n"):
        head = re.match(r"[A-Za-z].*?\b(\w+)\s*\(", line)
        if head and not line.rstrip().endswith(";"):
            owner = head.group(1)
        elif re.search(rf"\b{function}\s*\(", line) and not (owner or "").endswith("_of"):
            return False
    return True


def main():
    root = Path(sys.argv[1] if len(sys.argv) > 1 else Path(__file__).parent.parent.parent).resolve()
    table, wrong = faults(root)
    print("\n".join(wrong + [f"{len(table)} pairs of files may see the job, {len(wrong)} wrong"]))
    return 1 if wrong or len(table) < 2 else 0


if __name__ == "__main__":
    sys.exit(main())
