#!/usr/bin/env python3
"""The include graph of the rooms: what each folder of src really includes of the others.

    rooms.py [FOLDER] [--dot FILE]      the project; default: the one this file is in

A room is a folder of src whose CMakeLists.txt says plateproof_room or plateproof_doors; the arrows it
may have are named there (MAY_USE), the order of the rooms is that of CMakeLists.txt of the project.
Draws the graph, a line a room (with --dot also as a file for graphviz), and fails on

    an include of a room that MAY_USE does not name,
    a room that MAY_USE names and no include reaches, not even through other headers,
    an arrow to a room that does not come before it,
    a circle.
"""
import re
import sys
from pathlib import Path

INCLUDE = re.compile(r'^\s*#\s*include\s+"([^"]+)"', re.M)
ROOM = re.compile(r"plateproof_room\(\s*(\S+)([^)]*)\)")
DOORS = re.compile(r"plateproof_doors\(\s*\S+([^)]*)\)")
WORDS = {"NUMERICAL", "PROGRAM", "MAY_USE", "SOURCES"}


def rooms_of(root):
    """{room: rooms it may use}, from the folders' CMakeLists.txt."""
    found = {}
    for path in sorted((root / "src").rglob("CMakeLists.txt")):
        name = str(path.parent.relative_to(root / "src"))
        text = re.sub(r"#.*", "", path.read_text(encoding="utf-8"))
        room, doors = ROOM.search(text), DOORS.search(text)
        if room:
            names = re.split(r"\bSOURCES\b", room.group(2))[0].split()
        elif doors:
            names = doors.group(1).split()
        else:
            continue
        found[name] = {n for n in names if n not in WORDS and n != name}
    return found


def order_of(root, rooms):
    """The rooms as CMakeLists.txt of the project builds them, from the ground up."""
    text = re.sub(r"#.*", "", (root / "CMakeLists.txt").read_text(encoding="utf-8"))
    listed = " ".join(re.findall(r"foreach\(room([^)]*)\)", text) + re.findall(r"add_subdirectory\(src/([\w/]+)\)", text))
    return [w for w in dict.fromkeys(listed.split()) if w in rooms]


def room_of(path, rooms):
    """The room that holds a file named relative to src; None for the installed interface."""
    folder = str(Path(path).parent)
    return folder if folder in rooms else None


def includes_of(root, rooms):
    """{file relative to src: files it includes, relative to src}, of the rooms alone."""
    found = {}
    for room in rooms:
        for path in sorted((root / "src" / room).glob("*.[ch]")):
            text = path.read_text(encoding="utf-8")
            found[f"{room}/{path.name}"] = [i for i in INCLUDE.findall(text) if room_of(i, rooms)]
    return found


def reached(start, includes):
    """Every file that one includes, directly or not."""
    seen, todo = set(), list(includes.get(start, []))
    while todo:
        name = todo.pop()
        if name not in seen:
            seen.add(name)
            todo += includes.get(name, [])
    return seen


def arrows_of(includes, rooms):
    """{room: {other room: one include that makes the arrow}}"""
    arrows = {room: {} for room in rooms}
    for name, list_ in includes.items():
        here = room_of(name, rooms)
        for other in list_:
            there = room_of(other, rooms)
            if there != here:
                arrows[here].setdefault(there, f"src/{name} includes {other}")
    return arrows


def circle_in(arrows):
    """The rooms of one circle, the first again at the end; [] where there is none."""
    done, path = set(), []

    def visit(room):
        if room in path:
            return path[path.index(room):] + [room]
        if room in done:
            return []
        path.append(room)
        for other in sorted(arrows.get(room, {})):
            circle = visit(other)
            if circle:
                return circle
        path.pop()
        done.add(room)
        return []

    for room in sorted(arrows):
        circle = visit(room)
        if circle:
            return circle
    return []


def faults(root):
    rooms = rooms_of(root)
    order = order_of(root, rooms)
    includes = includes_of(root, rooms)
    arrows = arrows_of(includes, rooms)
    wrong = [f"{room}: CMakeLists.txt of the project does not build it" for room in rooms if room not in order]
    place = {room: i for i, room in enumerate(order)}
    for room, others in arrows.items():
        for other, why in sorted(others.items()):
            if other not in rooms[room]:
                wrong.append(f"{room} -> {other}: not among MAY_USE of src/{room}/CMakeLists.txt; {why}")
            if place.get(other, 0) >= place.get(room, len(order)):
                wrong.append(f"{room} -> {other}: {other} does not come before {room}; {why}")
    for room, allowed in rooms.items():
        used = set()
        for name in includes:
            if room_of(name, rooms) == room:
                used |= {room_of(n, rooms) for n in reached(name, includes)}
        wrong += [f"{room} -> {other}: named by MAY_USE, reached by no include" for other in sorted(allowed - used)]
        wrong += [f"{room} -> {other}: named by MAY_USE, but does not come before it"
                  for other in sorted(allowed) if place.get(other, len(order)) >= place.get(room, 0)]
    circle = circle_in(arrows)
    if circle:
        wrong.append("circle: " + " -> ".join(circle))
    return order, arrows, wrong


def draw(order, arrows):
    wide = max(map(len, order))
    return [f"{room:{wide}}  -> {' '.join(o for o in order if o in arrows[room]) or '(nothing)'}" for room in order]


def dot(order, arrows):
    lines = ["digraph rooms {", "  rankdir=BT; node [shape=box];"]
    lines += [f'  "{room}";' for room in order]
    lines += [f'  "{room}" -> "{other}";' for room in order for other in order if other in arrows[room]]
    return "\n".join(lines + ["}"]) + "\n"


def main():
    words = sys.argv[1:]
    drawing = words.pop(words.index("--dot") + 1) if "--dot" in words else None
    folders = [w for w in words if w != "--dot"]
    root = Path(folders[0] if folders else Path(__file__).parent.parent.parent).resolve()
    order, arrows, wrong = faults(root)
    if drawing:
        Path(drawing).write_text(dot(order, arrows), encoding="utf-8")
    count = sum(len(a) for a in arrows.values())
    print("\n".join(draw(order, arrows) + wrong + [f"{len(order)} rooms, {count} arrows, {len(wrong)} wrong"]))
    return 1 if wrong or len(order) < 2 or not count else 0


if __name__ == "__main__":
    sys.exit(main())
