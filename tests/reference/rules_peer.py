#!/usr/bin/env python3
"""Random rule files, whole and broken, against a reader of its own.

    rules_peer.py PROGRAM [FILES [FIRST]]

Whole ones: `plateproof rules FILE --tube ... --json` must give the limits that docs/manual/rule-files.md promises, as
worked out here from the tables themselves. Broken ones have one thing wrong: status 2, the file and line of it, the
word that is wrong, and what to do.
"""
import json
import random
import subprocess
import sys
import tempfile
from pathlib import Path

UNITS = {"mm": 1.0, "cm": 10.0, "in": 25.4}
PARTS, FITS, TABLES = ("tube-plate", "baffle"), ("standard", "close"), ("inch", "metric")


class Table:
    def __init__(self, r, kind, where):
        self.kind, self.where = kind, where
        self.unit = r.choice(list(UNITS))
        self.keys, self.rows = {}, []
        tube = lambda: round(r.uniform(8, 60), 2)
        if kind == "holes":
            conditions = r.sample(["tube", "tube_up_to", "span_up_to"], r.randint(0, 2))
            if "tube" in conditions and "tube_up_to" in conditions:
                conditions.remove("tube_up_to")
            # a size in mm suits the tubes of its row alone
            size = r.choice(["hole", "clearance"]) if "tube" in conditions else "clearance"
            over_limit = ["over_limit"] if r.random() < 0.5 else []
            self.columns = conditions + [size, "under", "over"] + over_limit + r.choice([[], ["sure"]])
            for _ in range(r.randint(1, 6)):
                t = tube()
                row = {"tube": t, "tube_up_to": t, "span_up_to": round(r.uniform(300, 1500)), "clearance": round(r.uniform(0.1, 0.9), 3),
                       "under": round(r.uniform(0, 0.2), 3), "over": round(r.uniform(0, 0.3), 3), "sure": r.choice("ABCD")}
                row["hole"] = round(t + row["clearance"], 3)
                row["over_limit"] = round(row["over"] + r.uniform(0, 0.2), 3)
                for c in ("tube_up_to", "span_up_to"):
                    if r.random() < 0.3:
                        row[c] = None
                self.rows.append({c: row[c] for c in self.columns})
        elif kind == "ligaments":
            self.columns = ["tube", "pitch", "minimum"]
            for _ in range(r.randint(1, 6)):
                t = tube()
                self.rows.append({"tube": t, "pitch": round(t * r.uniform(1.25, 1.5), 2), "minimum": round(t * 0.1, 3)})
        else:
            self.columns = r.choice([["allowance"], ["tube_below", "allowance"]])
            self.keys["drift_factor"] = round(r.uniform(0.01, 0.06), 4)
            if r.random() < 0.5:
                self.keys["minimum_share"] = r.randint(10, 90)
            for _ in range(r.randint(1, 3)):
                self.rows.append({c: {"tube_below": tube(), "allowance": round(r.uniform(0.3, 1), 2)}[c] for c in self.columns})
            self.rows.append({c: {"tube_below": None, "allowance": 0.5}[c] for c in self.columns})

    def cell(self, r, column, value):
        if value is None:
            return "-"
        if column == "sure":
            return value
        unit = self.unit if r.random() < 0.8 else r.choice(list(UNITS))
        text = f"{value / UNITS[unit]:.12g}"
        return text if unit == self.unit else f"{text} {unit}"

    def lines(self, r):
        yield f"[{' '.join([self.kind, *self.where])}]"
        yield f"unit = {self.unit}"
        yield f"source = drawing {r.randint(1, 99)}"
        # drift_factor is of the unit: thickness over tube has none
        for k, v in self.keys.items():
            yield f"{k} = {v} %" if k == "minimum_share" else f"{k} = {v / UNITS[self.unit]:.12g}"
        yield "columns = " + ", ".join(self.columns)
        for row in self.rows:
            yield "row = " + ", ".join(self.cell(r, c, row[c]) for c in self.columns)


def suits(given, asked):
    return all(g in ("any", a) for g, a in zip(given, asked))


def near(a, b, tolerance=0.005 + 1e-9):
    return abs(a - b) <= tolerance


def limits(tables, ask):
    """What the file says of a tube; None where the job would be refused."""
    tube, pitch, part = ask["tube"], ask["pitch"], ask["part"]
    holes = next((t for t in tables if t.kind == "holes" and suits(t.where, (part, ask["fit"], ask["table"]))), None)
    if not holes:
        return None
    for row in holes.rows:
        bound = lambda c, v: row.get(c) is None or v <= row[c] + 1e-9
        if ("tube" not in row or near(row["tube"], tube)) and bound("tube_up_to", tube) and bound("span_up_to", ask["span"]):
            break
    else:
        return None
    size = row["hole"] if "hole" in row else tube + row["clearance"]
    said = {"hole_nominal": size, "hole_under": row["under"], "hole_over": row["over"],
            "hole_over_limit": row.get("over_limit", row["over"])}
    if part == "baffle":  # its ligaments are judged by limits of the job alone
        return said
    formula = next((t for t in tables if t.kind == "ligament-formula" and suits(t.where, (part, ask["table"]))), None)
    minimum, nominal = None, pitch - size
    if formula and "minimum_share" in formula.keys:
        minimum = formula.keys["minimum_share"] / 100 * nominal
    else:
        table = next((t for t in tables if t.kind == "ligaments" and suits(t.where, (part, ask["table"]))), None)
        fitting = [q for q in table.rows if near(q["tube"], tube) and near(q["pitch"], pitch, 0.05)] if table else []
        if fitting:
            minimum = min(fitting, key=lambda q: abs(q["pitch"] - pitch))["minimum"]
    if minimum is not None and formula:  # one without the other is no judgement
        said["ligament_minimum"] = minimum
        row = next(q for q in formula.rows if q.get("tube_below") is None or tube < q["tube_below"] - 1e-9)
        drift = formula.keys["drift_factor"] * ask["thickness"] / tube
        said["ligament_standard"] = max(minimum, pitch - size - 2 * drift - row["allowance"])
    return said


def make(r):
    tables = [Table(r, "holes", (r.choice(PARTS + ("any",)), r.choice(FITS + ("any",)), r.choice(TABLES + ("any",))))
              for _ in range(r.randint(1, 3))]
    for kind, most in (("ligaments", 2), ("ligament-formula", 1)):
        tables += [Table(r, kind, ("tube-plate" if r.random() < 0.7 else "any", r.choice(TABLES + ("any",))))
                   for _ in range(r.randint(0, most))]
    seen, kept = set(), []
    for t in tables:  # the same section twice is a mistake of its own
        if (t.kind, t.where) not in seen:
            seen.add((t.kind, t.where))
            kept.append(t)
    lines = ["[set]", "kind = holes", "title = shop rules", ""]
    for t in kept:
        lines += list(t.lines(r)) + [""]
    return kept, lines


def question(r, tables):
    holes = [q["tube"] for t in tables for q in t.rows if "tube" in q]
    tube = round((r.choice(holes) if holes and r.random() < 0.8 else r.uniform(10, 55)) + r.choice([0, 0, 0.004, -0.004, 0.02]), 4)
    pitches = [q["pitch"] for t in tables for q in t.rows if q.get("pitch") and near(q["tube"], tube)]
    return {"tube": tube, "pitch": round(r.choice(pitches) + r.choice([0, 0.04, 0.2]), 3) if pitches else round(max(tube * 1.4, tube + 20), 3),
            "part": r.choice(PARTS), "fit": r.choice(FITS), "table": r.choice(TABLES), "span": float(r.randint(200, 1600)),
            "thickness": float(r.randint(10, 90))}


def run(program, folder, ask=None):
    words = [program, "rules", "./mine.ini"]
    if ask:
        words += ["--json"] + [w for k in ("tube", "pitch", "part", "fit", "table", "span", "thickness") for w in (f"--{k}", str(ask[k]))]
    return subprocess.run(words, cwd=folder, capture_output=True, text=True, timeout=20)


def whole(program, folder, r):
    tables, lines = make(r)
    (folder / "mine.ini").write_text("\n".join(lines) + "\n")
    plain = run(program, folder)
    if plain.returncode or plain.stderr:
        return f"a whole file is refused: {plain.stderr}", 0
    for _ in range(3):
        ask = question(r, tables)
        want, done = limits(tables, ask), run(program, folder, ask)
        if want is None:
            if done.returncode != 2 or "give [rules]" not in done.stderr:
                return f"{ask}: should be refused, said {done.returncode} {done.stderr}", 0
            continue
        if done.returncode:
            return f"{ask}: wanted {want}, refused {done.stderr}", 0
        answer = json.loads(done.stdout)
        if ask["part"] == "tube-plate" and "ligament_minimum" not in want and "give [rules] ligament_" not in str(answer["missing"]) \
                and "check [holes] pitch" not in str(answer["missing"]):
            return f"{ask}: no ligament limits, and no word of it: {answer['missing']}", 0
        got = {l["name"]: l["value"] for l in answer["limits"] if l["name"] != "remainder_share"}
        if set(got) != set(want) or any(abs(got[k] - want[k]) > 2e-6 for k in want):
            return f"{ask}: wanted {want}, got {got}", 0
    return None, 1


def spoil(r, lines):
    """One thing wrong, the line to be blamed (counted from one) and a word of the message."""
    at = lambda test: r.choice([i for i, l in enumerate(lines) if test(l)])
    row = lambda l: l.startswith("row = ")
    kinds = ["section", "baffle", "key", "number", "short", "unit", "column", "negative", "letter", "kind", "twice", "equals", "long"]
    kind = r.choice(kinds)
    bad = list(lines)
    if kind == "section":
        i = at(lambda l: l.startswith("[holes"))
        bad[i] = bad[i].replace("[holes", "[hoels")
        return bad, i, "hoels"
    if kind == "baffle" and any(l.startswith("[ligament") for l in lines):
        i = at(lambda l: l.startswith("[ligament"))
        words = bad[i].split()
        bad[i] = " ".join([words[0], "baffle"] + words[2:])
        return bad, i, "would not be looked at"
    if kind == "key":
        i = at(lambda l: l.startswith("source"))
        bad[i] = "sorce = x"
        return bad, i, "sorce"
    if kind == "unit":
        i = at(lambda l: l.startswith("unit"))
        bad[i] = "unit = furlong"
        return bad, i, "furlong"
    if kind == "column":
        i = at(lambda l: l.startswith("columns"))
        bad[i] += ", pich"
        return bad, i, "pich"
    if kind == "kind":
        bad[1] = "kind = tubes"
        return bad, 1, "tubes"
    if kind == "twice":
        i = at(lambda l: " = " in l and not row(l))  # any key but row: source and unit, too
        bad.insert(i, bad[i])
        return bad, i + 1, bad[i].split(" = ")[0]
    if kind == "equals":
        i = at(lambda l: l.startswith("unit"))
        bad[i] = "unit mm"
        return bad, i, "key = value"
    i = at(row)
    cells = bad[i][6:].split(", ")
    if kind == "short":
        bad[i] = "row = " + ", ".join(cells[:-1]) if len(cells) > 1 else "row ="
        return bad, i, "cells" if len(cells) > 1 else ""
    if kind == "long":
        bad[i] += ", 1"
        return bad, i, "cells"
    k = r.randrange(len(cells))
    head = next(l for l in reversed(lines[:i]) if l.startswith("columns"))[10:].split(", ")
    if kind == "number" and head[k] != "sure":
        cells[k] = r.choice(["1,5", "abc", "nan", "1e999", "0x10", "25.4 kg", "1/0"])
        bad[i] = "row = " + ", ".join(cells)
        return bad, i, "cells" if "," in cells[k] else head[k]
    if kind == "negative" and head[k] not in ("sure", "clearance"):
        cells[k] = "-0.5"
        bad[i] = "row = " + ", ".join(cells)
        return bad, i, head[k]
    if head[-1] == "sure":
        cells[-1] = "E"
        bad[i] = "row = " + ", ".join(cells)
        return bad, i, '"E"'
    bad[i] += ", 1"
    return bad, i, "cells"


def broken(program, folder, r):
    _, lines = make(r)
    bad, line, word = spoil(r, lines)
    (folder / "mine.ini").write_text("\n".join(bad) + "\n")
    done = run(program, folder)
    where = f"mine.ini:{line + 1}:"
    remedies = ("did you mean", "write", "give", "keep", "must", "needs", "expected", "it is", "is not", "lack", "for", "neither")
    if done.returncode != 2 or where not in done.stderr or word not in done.stderr or not any(w in done.stderr for w in remedies):
        return f"wanted {where} and {word!r}, said {done.returncode} {done.stderr}{done.stdout[:100]}\n" + "\n".join(bad)
    return None


def main(program, files=200, first=1):
    wrong = answered = 0
    with tempfile.TemporaryDirectory() as name:
        for seed in range(first, first + files):
            r = random.Random(seed)
            fault, full = whole(program, Path(name), r) if seed % 2 else (broken(program, Path(name), r), 0)
            answered += full
            if fault:
                wrong += 1
                print(f"file {seed}: {fault}")
    print(f"{files} rule files, {answered} whole ones read alike, {wrong} wrong")
    return wrong > 0 or answered < files // 4


if __name__ == "__main__":
    program = str(Path(sys.argv[1]).resolve())
    sys.exit(main(program, *(int(a) for a in sys.argv[2:])))
