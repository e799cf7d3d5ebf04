#!/usr/bin/env python3
"""A type lives with what makes it: holds every struct and enum of the headers of src to its room.

    type_rooms.py [FOLDER] [--list]      the project; default: the one this file is in

A type may stand in a room's header where the room

    makes it    one of its .c files fills one in: a literal, a variable, what a function returns or
                has to fill, an entry of a table;
    asks it     a function declared in its headers is told one: options, a list of points. Whoever
                calls fills it in;
    has it      as a member of a type that it makes or asks.

Fails on a type that is none of these and not in the table "types that live below what makes them" of
docs/architecture.md, on a row there that no type needs, and on two types of one name. --list prints
every type with its reason.
"""
import re
import sys
from collections import defaultdict
from pathlib import Path

TYPE = re.compile(r"^typedef (?:struct|enum|union)\b[^;{}]*\{", re.M)
OPAQUE = re.compile(r"^typedef struct \w+ (pp_\w+);", re.M)
PROTOTYPE = re.compile(r"^[A-Za-z_][\w\s*]*?\bpp_\w+\s*\([^;{]*\)\s*[;{]", re.M)
CALLBACK = re.compile(r"^typedef [^;{}]*\(([^;{}]*)\);|\(\*\w+\)\s*\(([^;{}]*)\);", re.M)
ROW = re.compile(r"^\| `(pp_\w+)` \| `([\w/]+)` \|", re.M)
WORD = re.compile(r"\bpp_\w+")


def code_of(path):
    text = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.S)
    return re.sub(r'"(?:\\.|[^"\\])*"', '""', text)


def types_of(text):
    """(name, body) of every type that a header defines."""
    for head in TYPE.finditer(text):
        depth, end = 1, head.end()
        while depth:
            depth += {"{": 1, "}": -1}.get(text[end], 0)
            end += 1
        name = re.match(r"\s*(\w+)\s*;", text[end:])
        if name:
            yield name.group(1), text[head.end() : end]
    for name in OPAQUE.findall(text):
        if not re.search(rf"^\}} {name};", text, re.M):
            yield name, ""


def makes(text, name):
    """A .c file fills one in."""
    return re.search(rf"\b{name}\)?\s*(?:\[[^\]]*\])?\s*\)\s*\{{"  # (pp_x){, (pp_x[]){
                     rf"|(?:^|[{{(;,])\s*(?:static )?(?:const )?{name}\s+\w+\s*(?:\[[^;=]*\])?\s*[=;,)]"  # variable, parameter by value
                     rf"|(?<!const )\b{name}\s*\*"  # what it is handed to fill
                     rf"|sizeof\s*\(\s*{name}\b"
                     rf"|^(?:static )?{name} \w+\(", text, re.M)


def lines_by_word(text):
    """{word: the lines that name it}"""
    found = defaultdict(list)
    for line in text.split("\n"):
        for word in set(WORD.findall(line)):
            found[word].append(line)
    return {word: "\n".join(lines) for word, lines in found.items()}


def judged(root):
    """{type: (room, header, reason or None)}, and the homonyms."""
    homes, bodies, double, sources = {}, {}, [], defaultdict(str)
    asked = defaultdict(set)
    for path in sorted((root / "src").rglob("*.[ch]")):
        room = str(path.parent.relative_to(root / "src"))
        text = code_of(path)
        if path.suffix == ".c":
            sources[room] += text
            continue
        for name, body in types_of(text):
            if name in homes:
                double.append(f"{homes[name][1]} and {path.relative_to(root)} both define {name}")
            homes[name], bodies[name] = (room, str(path.relative_to(root))), body
        for prototype in PROTOTYPE.findall(text):
            asked[room].update(WORD.findall(prototype))
        for groups in CALLBACK.findall(text):
            asked[room].update(WORD.findall(" ".join(groups)))
        sources[room] += "".join(re.findall(r"^static inline[^;]*?\{.*?^\}", text, re.M | re.S))
    reasons, of_word = {}, {room: lines_by_word(text) for room, text in sources.items()}
    for name, (room, _) in homes.items():
        constants = re.findall(r"\bPP_\w+", bodies[name])
        if makes(of_word.get(room, {}).get(name, ""), name):
            reasons[name] = "makes"
        elif name in asked[room]:
            reasons[name] = "asks"
        elif "pp_" not in bodies[name] and any(c in sources[room] for c in constants):
            reasons[name] = "makes"
    grown = True
    while grown:
        grown = False
        for owner in list(reasons):
            for word in set(WORD.findall(bodies[owner])):
                if word in homes and word not in reasons and homes[word][0] == homes[owner][0]:
                    reasons[word] = f"has, in {owner}"
                    grown = True
    return {n: (*home, reasons.get(n)) for n, home in homes.items()}, double


def main():
    names = [a for a in sys.argv[1:] if not a.startswith("--")]
    root = Path(names[0] if names else Path(__file__).parent.parent.parent).resolve()
    types, wrong = judged(root)
    listed = dict(ROW.findall((root / "docs" / "architecture.md").read_text(encoding="utf-8")))
    for name, (room, header, reason) in sorted(types.items(), key=lambda t: t[1][1]):
        if "--list" in sys.argv[1:]:
            print(f"{header}: {name}: {reason or 'listed' if name in listed else reason}")
        if reason is None and listed.get(name) != room:
            wrong.append(f"{header}: {room} neither makes {name} nor asks for it; move it to the room that makes it, or say why in docs/architecture.md")
    wrong += [f"docs/architecture.md: {name} needs no reason to live in {room}" for name, room in sorted(listed.items())
              if types.get(name, (None, None, "gone"))[2] is not None]
    print("\n".join(wrong + [f"{len(types)} types of headers, {len(listed)} with a reason, {len(wrong)} wrong"]))
    return 1 if wrong or len(types) < 100 else 0


if __name__ == "__main__":
    sys.exit(main())
