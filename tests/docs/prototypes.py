#!/usr/bin/env python3
"""Every function that a header exports says what it does: lists the prototypes of src/**/*.h and
include/ that no comment stands above or beside, and fails on any.

A comment covers the prototypes that follow it without an empty line between them; a comment at the
end of a prototype's line, or the comment inside its parameters, covers that prototype. With
--broken the test takes away the comments first, with --silent what they say of errors, and must
then fail.

What a function that gives a pp_status can fail with is said, too: its comment names a PP_E... or
says `errors`. One statement above the includes, `errors` with the codes, serves a whole header. A
code is followed by words that say when it comes ("PP_EINPUT: fewer than three points", "PP_EIO as
pp_file_open"), but for those that mean the same everywhere (ALIKE). With --wordless the test takes
these words away first, and must then fail.
"""
import pathlib
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROTOTYPE = re.compile(r"^(?:static inline\s+)?[A-Za-z_][\w\s*]*?\b(pp_\w+)\s*\(")
GIVES_STATUS = re.compile(r"^(?:static inline\s+)?pp_status\b")
ERRORS = re.compile(r"\bPP_E[A-Z]+\b|\berrors\b")
ERRORS_OF_ALL = re.compile(r"\berrors\b[^.]*\bPP_E[A-Z]+\b", re.S)
CODE = r"PP_E(?:INPUT|NOTHING|IO|NOMEM|NUMERIC|CANCELLED)"
CODES = re.compile(rf"{CODE}(?:(?:,? and |, ){CODE})*")
WORDS = re.compile(r":? [`(\"a-z]|:? [A-Z]+\b [a-z]|: [A-Z]")  # "when", "FOLDER is", "Poisson's"
ALIKE = {"PP_ENOMEM", "PP_ECANCELLED"}  # memory ran out; the caller asked to stop
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


def wordless(comment):
    """The codes of a comment that no word follows."""
    text = " ".join(re.sub(r"\s\*\s|/\*|\*/", " ", comment + " ").split())
    found = []
    for codes in CODES.finditer(text):
        if not WORDS.match(text, codes.end()):
            found += [c for c in re.findall(CODE, codes.group(0)) if c not in ALIKE]
    return found


def lacks(text):
    """(line, name, what is wrong) of every function whose comment says too little."""
    head = comment_of_file(text)
    of_all = bool(ERRORS_OF_ALL.search(head))
    if of_all and wordless(head):
        yield 1, "the head", f"does not say when {', '.join(wordless(head))} comes"
    for line, name, gives_status, comment in exported(text):
        if comment is None:
            yield line, name, "has no comment: say what it is given and returns"
        elif gives_status and not of_all and not ERRORS.search(comment):
            yield line, name, "does not say its errors: name the PP_E... it can give"
        elif gives_status and wordless(comment):
            yield line, name, f"does not say when {', '.join(wordless(comment))} comes"


def main():
    broken, silent, without = (f"--{word}" in sys.argv[1:] for word in ("broken", "silent", "wordless"))
    count, of_status, found = 0, 0, []
    for path in headers():
        text = path.read_text()
        if broken:
            text = re.sub(r"/\*.*?\*/", "", text, flags=re.S)
        if silent:
            text = re.sub(r"\bPP_E[A-Z]+\b|\berrors\b", "", text)
        if without:
            text = re.sub(rf"({CODE}):? [^;,.*]*", r"\1", text)
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
