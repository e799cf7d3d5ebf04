#!/usr/bin/env python3
"""A header exports what others call: lists the functions of src/**/*.h that no file but their own
and its header names, neither in src nor in tests, and fails on any.

    exports.py [FOLDER]      the project; default: the one this file is in

Such a function is static, or dead. Inline ones count as used by the header they stand in. The
installed interface (include/) is not looked at; what is loaded by name is in LOADED.
"""
import re
import sys
from collections import Counter
from pathlib import Path

PROTOTYPE = re.compile(r"^(?!static|typedef|#)[A-Za-z_][\w\s*]*?\b(pp_\w+)\s*\(", re.M)
WORD = re.compile(r"\bpp_\w+")
LOADED = set()  # looked up by name in a module


def words_of(path):
    return WORD.findall(re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.S))


def unused(root):
    words = {p: Counter(words_of(p)) for folder in ("src", "tests", "include") for p in sorted((root / folder).rglob("*.[ch]"))}
    files_of = {}
    for path, counts in words.items():
        for word in counts:
            files_of.setdefault(word, set()).add(path)
    count, found = 0, []
    for header in sorted((root / "src").rglob("*.h")):
        for name in PROTOTYPE.findall(re.sub(r"/\*.*?\*/", "", header.read_text(encoding="utf-8"), flags=re.S)):
            count += 1
            users = {p for p in files_of[name] - {header} if not defines(p, name)}
            own_inline = words[header][name] > 1
            if not users and not own_inline and name not in LOADED:
                found.append(f"{header.relative_to(root)}: {name} is named by no file but its own; make it static, or take it away")
    return count, found


def defines(path, name):
    """The file holds the function's body."""
    return path.suffix == ".c" and re.search(rf"^[A-Za-z_][\w\s*]*?\b{name}\s*\([^;{{]*\)\s*\n?\{{", path.read_text(encoding="utf-8"), re.M)


def main():
    root = Path(sys.argv[1] if len(sys.argv) > 1 else Path(__file__).parent.parent.parent).resolve()
    count, found = unused(root)
    print("\n".join(found + [f"{count} exported functions, {len(found)} that nobody else calls"]))
    return 1 if found or not count else 0


if __name__ == "__main__":
    sys.exit(main())
