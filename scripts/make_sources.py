#!/usr/bin/python3
"""Write docs/manual/sources.md from the rule files: where each built-in table value comes from.

  scripts/make_sources.py          write the page
  scripts/make_sources.py --check  exit status 1 when the page is not what the rule files say

The letters and sources are the rule files' own; only the opening below is written by hand.
"""
import pathlib
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "manual" / "sources.md"

LETTERS = {
    "A": "published, seen in two sources",
    "B": "published, seen in one source",
    "C": "from memory, checked by arithmetic",
    "D": "from memory, not checked",
}

OPENING = """# Where each table value comes from

<!-- Written by scripts/make_sources.py from data/rules; a test holds the two together. -->

Built-in tables are in the style of the standards they name; they are not the standards. Part of their
values were read in published pages, part were recalled from memory. Every value carries a letter, and
every limit in a report repeats it in words:

| letter | meaning |
| --- | --- |
| A | published, seen in two sources (or in one and agreeing with a second by conversion) |
| B | published, seen in one source |
| C | from memory, checked by arithmetic: a formula, a conversion, a printed ratio |
| D | from memory, not checked |

**C and D were not read anywhere.** A "source" beside them says where the value is to be looked up, not
that it was. Hold each against the edition your order names; the job's `[rules]` override any of them
([rule files](rule-files.md)).

What was read of the tube-hole tables: Ludwig's reprint, table 10-8A, in full for tubes of 1/4 to 3/4 in,
and the first two figures of 7/8 in; the standard-fit holes up to 1-1/4 in a second time beside the table
of ligaments, of which **one public reprint** was seen; 25.70, 38.56 and 51.36 mm (1, 1-1/2 and 2 in, standard fit)
in AS 4458. **The close-fit holes of 7/8 in and above stand in none of these pages in so many words**:
they have the letters of memory, so look them up before you rely on them.

Metric tables for tubes and ligaments are the inch tables in mm. A size is rounded to 0.01 mm (0.1 mm for a
baffle's clearance); a tolerance is never rounded up, and a least ligament never down: 0.075 in is
1.905 mm. A printed metric table may differ from that by some micrometres, for baffles by 0.05 mm.

Of the A20-style carbon table only the column from 48 to 60 in, down to 2 in thick, was held against a
published excerpt. The JIS leaflet prints its values from 3.15 mm on once for both widths.

A baffle row's letter A speaks of its 1/64 in only: when it applies, and the outer limit, are from memory.

The second copies in `data/reference`, which `scripts/test.sh reference` holds these tables against, were
typed apart. They catch a slip of the keyboard, not of the memory.
"""


def read(path):
    """Sections of a rule file in order: (name, {key: text}, [row, ...])."""
    sections = []
    for line in path.read_text().splitlines():
        line = line.split(" ;")[0].strip()
        if not line or line.startswith(";"):
            continue
        if line.startswith("["):
            sections.append((line.strip("[]"), {}, []))
            continue
        key, value = (part.strip() for part in line.split("=", 1))
        if key == "row":
            sections[-1][2].append([cell.strip() for cell in value.split(",")])
        else:
            sections[-1][1][key] = value
    return sections


def words(letter):
    return f"{letter}: {LETTERS[letter]}"


def span(names):
    return "; ".join(names) if len(names) <= 3 else f"{names[0]} to {names[-1]}"


def row_name(columns, row):
    """What tells a row from the others: its conditions."""
    parts = []
    for column, cell in zip(columns, row):
        if column in ("tube", "pitch"):
            parts.append(cell if column == "tube" else f"at {cell}")
        elif column in ("tube_up_to", "tube_below", "span_up_to") and cell != "-":
            parts.append(f"{column.replace('_', ' ')} {cell}")
    return " ".join(parts) or "all others"


def groups(columns, rows):
    """Rows next to each other with the same letters: (names, letter of size, of tolerances)."""
    found = []
    for row in rows:
        cell = dict(zip(columns, row))
        letters = (cell["sure"], cell.get("sure_tolerance"))
        if not found or found[-1][1] != letters:
            found.append(([], letters))
        found[-1][0].append(row_name(columns, row))
    return found


def table_of_rows(keys, rows):
    columns = [c.strip() for c in keys["columns"].split(",")]
    tolerances = "sure_tolerance" in columns
    what = ("hole" if "hole" in columns else "clearance" if "clearance" in columns
            else "minimum" if "minimum" in columns else "allowance")
    head = f"| rows, {keys['unit']} | number | {what} |"
    out = [head + " under, over |" if tolerances else head,
           "| --- | --- | --- |" + (" --- |" if tolerances else "")]
    for names, (size, tolerance) in groups(columns, rows):
        line = f"| {span(names)} | {len(names)} | {words(size)} |"
        out.append(line + f" {words(tolerance)} |" if tolerances else line)
    return out


def section(name, keys, rows):
    title = name + (f", {keys['length']} {keys['unit']}" if "length" in keys else "")
    out = ["", f"### {title}", "", f"Source named: {keys['source']}.", ""]
    if "sure" in keys:  # one letter for the table
        out.append(f"All {len(rows)} rows: {words(keys['sure'])}.")
    else:
        out += table_of_rows(keys, rows)
    beside = [f"{key} = {keys[key]}" for key in ("drift_factor", "minimum_share") if key in keys]
    if beside:
        out += ["", f"Beside the rows, as sure as they are: {'; '.join(beside)}."]
    return out


def page():
    out = [OPENING.rstrip()]
    for path in sorted((ROOT / "data" / "rules").glob("*.ini")):
        sections = read(path)
        out += ["", f"## {path.stem}", "", sections[0][1]["title"] + "."]
        if "note" in sections[0][1]:
            out.append(sections[0][1]["note"])
        for name, keys, rows in sections[1:]:
            out += section(name, keys, rows)
    return "\n".join(out) + "\n"


def main():
    if "--check" not in sys.argv[1:]:
        PAGE.write_text(page())
        return 0
    if PAGE.exists() and PAGE.read_text() == page():
        return 0
    print(f"{PAGE} is not what data/rules says; run scripts/make_sources.py")
    return 1


sys.exit(main())
