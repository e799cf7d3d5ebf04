#!/usr/bin/env python3
"""Every function that a header exports says what it does: lists the prototypes of src/**/*.h and
include/ that no comment stands above or beside, and fails on any.

A comment covers the prototypes that follow it without an empty line between them; a comment at the
end of a prototype's line, or the comment inside its parameters, covers that prototype. With
--broken the test takes away the comments first, with --silent what they say of errors, and must
then fail.

What a function that gives a pp_status can fail with is said, too: its comment names a PP_E... or
says `errors`. One statement above the includes, `errors` with the codes, serves a whole header.
"""
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROTOTYPE = re.compile(r"^(?:static inline\s+)?[A-Za-z_][\w\s*]*?\b(pp_\w+)\s*\(")
GIVES_STATUS = re.compile(r"^(?:static inline\s+)?pp_status\b")
ERRORS = re.compile(r"\bPP_E[A-Z]+\b|\berrors\b")
ERRORS_OF_ALL = re.compile(r"\berrors\b[^.]*\bPP_E[A-Z]+\b", re.S)
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


def comment_of_file(text):
    """The comment above the first line of code, empty where there is none."""
    match = re.match(r"\s*/\*.*?\*/", text, re.S)
    return match.group(0) if match else ""


def exported(text):
    """(line, name, gives a status, comment) of every function; the comment None where it lacks."""
    lines = text.split("\n")
    comment, k = None, 0
    while k < len(lines):
        line = lines[k]
        if line.lstrip().startswith("/*"):
            first = k
            while "*/" not in lines[k]:
                k += 1
            # the comment at the head of the file is the file's
            comment = "\n".join(lines[first : k + 1]) if first > 0 else None
        elif not line.strip():
            comment = None
        elif is_function(lines, k):
            last = end_of(lines, k)
            own = " ".join(re.findall(r"/\*.*?\*/", "\n".join(lines[k : last + 1]), re.S))
            said = " ".join(filter(None, (comment, own))) or None
            yield k + 1, PROTOTYPE.match(line).group(1), bool(GIVES_STATUS.match(line)), said
            k = last
        elif line.rstrip() == "}" or line.startswith("} "):
            comment = None  # a type that ends: its comment is not the next function's
        k += 1


def lacks(text):
    """(line, name, what is wrong) of every function whose comment says too little."""
    of_all = bool(ERRORS_OF_ALL.search(comment_of_file(text)))
    for line, name, gives_status, comment in exported(text):
        if comment is None:
            yield line, name, "has no comment: say what it is given and returns"
        elif gives_status and not of_all and not ERRORS.search(comment):
            yield line, name, "does not say its errors: name the PP_E... it can give"


def main():
    broken, silent = "--broken" in sys.argv[1:], "--silent" in sys.argv[1:]
    count, of_status, found = 0, 0, []
    for path in headers():
        text = path.read_text()
        if broken:
            text = re.sub(r"/\*.*?\*/", "", text, flags=re.S)
        if silent:
            text = re.sub(r"\bPP_E[A-Z]+\b|\berrors\b", "", text)
        functions = list(exported(text))
        count += len(functions)
        of_status += sum(gives_status for _, _, gives_status, _ in functions)
        found += [(path.relative_to(ROOT), *lack) for lack in lacks(text)]
    for path, line, name, words in found:
        print(f"{path}:{line}: {name} {words}")
    print(f"{count} exported functions, {of_status} of them give a status; {len(found)} say too little")
    if count < 100 or of_status < 100:
        print("hardly any function was found: does the test still read the headers?")
        return 1
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
