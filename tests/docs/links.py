#!/usr/bin/env python3
"""Every relative link of the documents leads somewhere, and every page is linked from somewhere.

    links.py [FOLDER]      the project; default: the one this file is in

Checked in all Markdown files: files and pictures named by links, anchors against the headings of the
page they point into, and paths of the project written as code (`src/run/run.c`). A page under docs/
that no other page links to is reported as well. Code blocks are no text and are left out.
"""
import re
import subprocess
import sys
from pathlib import Path

LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
CODE_PATH = re.compile(r"`((?:src|tests|docs|data|scripts|cmake|include)/[\w./-]*\w)`")
HEADING = re.compile(r"^#{1,6} +(.*)")


def pages(root):
    listed = subprocess.run(["git", "-C", str(root), "ls-files", "*.md"], capture_output=True, text=True)
    names = listed.stdout.split("\n") if listed.returncode == 0 and listed.stdout else \
        [str(p.relative_to(root)) for p in root.rglob("*.md") if "build" not in p.parts and "node_modules" not in p.parts]
    return [root / n for n in names if n and (root / n).exists()]


def text_lines(page):
    """(number, line) outside code blocks."""
    inside = False
    for number, line in enumerate(page.read_text(encoding="utf-8").split("\n"), 1):
        if line.lstrip().startswith("```"):
            inside = not inside
        elif not inside and not line.startswith("    "):
            yield number, line


def anchor(heading):
    plain = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", heading).replace("`", "").strip().lower()
    return re.sub(r"[^\w\- ]", "", plain).replace(" ", "-")


def anchors(page):
    found, seen = set(), {}
    for _, line in text_lines(page):
        match = HEADING.match(line)
        if match:
            name = anchor(match.group(1))
            count = seen.get(name, 0)
            seen[name] = count + 1
            found.add(f"{name}-{count}" if count else name)
    return found


def check_page(root, page, linked):
    wrong, links = [], 0
    for number, line in text_lines(page):
        targets = [t for t in LINK.findall(line) if "://" not in t and not t.startswith("mailto:")]
        links += len(targets)
        for target in targets:
            path, _, part = target.partition("#")
            to = (page.parent / path).resolve() if path else page
            linked.add(to)
            if not to.exists():
                wrong.append(f"{page.relative_to(root)}:{number}: {target} leads nowhere")
            elif part and to.suffix == ".md" and part not in anchors(to):
                wrong.append(f"{page.relative_to(root)}:{number}: {target} names no heading there")
        for path in CODE_PATH.findall(line):
            if not any((root / path).parent.glob((root / path).name + "*")):
                wrong.append(f"{page.relative_to(root)}:{number}: {path} is not in the project")
    return wrong, links


def main():
    root = Path(sys.argv[1] if len(sys.argv) > 1 else Path(__file__).parent.parent.parent).resolve()
    all_pages, linked, wrong, links = pages(root), set(), [], 0
    for page in all_pages:
        found, count = check_page(root, page, linked)
        wrong += found
        links += count
    for page in all_pages:
        if root / "docs" in page.parents and page not in linked:
            wrong.append(f"{page.relative_to(root)}: no page links to it")
    print("\n".join(wrong + [f"{len(all_pages)} pages, {links} links, {len(wrong)} wrong"]))
    return 1 if wrong or not links else 0


if __name__ == "__main__":
    sys.exit(main())
