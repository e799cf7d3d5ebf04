#!/usr/bin/env python3
"""Every function that a header exports says what it does: lists the prototypes of src/**/*.h and
include/ that no comment stands above or beside, and fails on any.

A comment covers the prototypes that follow it without an empty line between them; a comment at the
end of a prototype's line, or the comment inside its parameters, covers that prototype. With
--broken the test takes away the comments of one header first and must then fail.
"""
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROTOTYPE = re.compile(r"^(?:static inline\s+)?[A-Za-z_][\w\s*]*?\b(pp_\w+)\s*\(")
NOT_ONE = re.compile(r"^\s*(#|typedef|struct|enum|union|return|extern|\}|\{)")


def headers():
    for folder in ("src", "include"):
        yield from sorted((ROOT / folder).rglob("*.h"))


def is_function(lines, k):
    """Line k begins a function's declaration or inline definition at the outer level."""
    line = lines[k]
    return bool(PROTOTYPE.match(line)) and not NOT_ONE.match(line)


def end_of(lines, k):
    """The last line of the declaration that begins on line k."""
    depth = 0
    for n in range(k, len(lines)):
        code = re.sub(r"/\*.*?\*/", "", lines[n])
        depth += code.count("(") - code.count(")") + code.count("{") - code.count("}")
        if depth == 0 and re.search(r"[;}]\s*$", code.rstrip()):
            return n
    return len(lines) - 1


def without_comment(text):
    lines = text.split("\n")
    covered, missing, k = False, [], 0
    while k < len(lines):
        line = lines[k]
        if line.lstrip().startswith("/*"):
            first = k
            while "*/" not in lines[k]:
                k += 1
            covered = first > 0  # the comment at the head of the file is the file's
        elif not line.strip():
            covered = False
        elif is_function(lines, k):
            last = end_of(lines, k)
            own = any("/*" in part for part in lines[k : last + 1])
            if not covered and not own:
                missing.append((k + 1, PROTOTYPE.match(line).group(1)))
            k = last
        elif line.rstrip() == "}" or line.startswith("} "):
            covered = False  # a type that ends: its comment is not the next function's
        k += 1
    return missing


def main():
    broken = "--broken" in sys.argv[1:]
    count, found = 0, []
    for path in headers():
        text = path.read_text()
        if broken:
            text = re.sub(r"/\*.*?\*/", "", text, flags=re.S)
        count += sum(is_function(text.split("\n"), k) for k in range(len(text.split("\n"))))
        found += [(path.relative_to(ROOT), line, name) for line, name in without_comment(text)]
    for path, line, name in found:
        print(f"{path}:{line}: {name} has no comment: say what it is given and returns")
    print(f"{count} exported functions, {len(found)} without a comment")
    if count < 100:
        print("hardly any function was found: does the test still read the headers?")
        return 1
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
