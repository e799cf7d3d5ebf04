#!/usr/bin/env python3
"""Which text each picture of docs/pictures shows, by its hash: the pictures are older than the program where it differs.

    picture_sources.py PROGRAM [--demo FOLDER]    exit status 1 where a picture is older than what it shows
    picture_sources.py PROGRAM --write            note what they show now (scripts/make_pictures.sh does)

Of a page the words count that stand on the picture, its style, and the words that its script says; of a paper the
words of its first page. Hashes of results and the program's version are left out: they say nothing to the eye, and
code that shows the same does not make a picture old. FOLDER has the reports of the demo's plate and clean jobs;
else they are made.
"""
import hashlib
import html
import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "docs/pictures"
NOTED = FOLDER / "sources.json"
FIRST_SCREEN = 1500  # characters of a page that a picture of its head shows, at least


def run(*words):
    done = subprocess.run([str(w) for w in words], capture_output=True, text=True, stdin=subprocess.DEVNULL)
    if done.returncode not in (0, 1):
        sys.exit(done.stderr)


def plain(text):
    text = re.sub(r"\b[0-9a-f]{12,64}\b|plateproof \d[\w.]*", "", text)
    return re.sub(r"\s+", " ", text).strip()


def words_of_page(path, most=None):
    page = re.sub(r"(?s)<(script|style|svg)\b.*?</\1>", " ", path.read_text())
    return plain(html.unescape(re.sub(r"<[^>]+>", " ", page)))[:most]


def words_of_paper(path):
    done = subprocess.run(["pdftotext", "-l", "1", str(path), "-"], capture_output=True, check=True)
    return plain(done.stdout.decode())


def words_of_script(path):
    """What it says to people: its texts with a space or a capital in them."""
    texts = re.findall(r"'((?:[^'\\\n]|\\.)*)'|`((?:[^`\\]|\\.)*)`", path.read_text())
    return "\n".join(text for pair in texts for text in pair if re.search(r"[A-Z ]", text))


def files(*names):
    return "".join((ROOT / name).read_text() for name in names)


def shown(program, work, demo):
    """{picture: the text that it shows}"""
    if demo is None:
        demo = work / "demo"
        shutil.copytree(ROOT / "data/demo", demo)
        for job in ("plate", "clean"):
            run(program, "inspect", "-q", demo / f"{job}.ini")
    shutil.copytree(ROOT / "data/demo-stack", work / "stack")
    run(program, "stack", "-q", work / "stack/stack.ini")
    shutil.copytree(ROOT / "data/demo-bundle", work / "bundle")
    run(program, "bundle", "-q", work / "bundle/set.ini")
    bundle = work / "bundle/set-report"
    invented = work / "invented"
    invented.mkdir()
    run(sys.executable, ROOT / "scripts/invented_plate.py", invented)
    run(program, "inspect", "-q", invented / "honest.ini")
    run(program, "inspect", "-q", invented / "widened.ini")
    run(program, "flatness", "-q", invented / "partial.ini")
    style = files("src/report/page/page.css")
    maps = style + words_of_script(ROOT / "src/report/page/page.js")
    honest = invented / "honest-report"
    found = {
        "report": words_of_page(demo / "plate-report/report.html", FIRST_SCREEN) + style,
        "plate": maps + files("data/demo/measured.csv"),
        "holddown": maps + files("data/demo/survey.csv", "data/demo/plate.ini"),
        "stack": words_of_page(work / "stack/stack-report/report.html", 2 * FIRST_SCREEN) + style,
        "bundle-tubes": words_of_page(bundle / "report.html", 2 * FIRST_SCREEN) + style,
        "bundle-worst": words_of_page(bundle / "report.html", 2 * FIRST_SCREEN) + style,
        "fitters-sheet": words_of_paper(bundle / "fitters-sheet.pdf"),
        "certificate": words_of_paper(demo / "clean-report/certificate.pdf"),
        "three-certificates": "".join(words_of_paper(invented / f"{job}-report/certificate.pdf")
                                      for job in ("honest", "widened", "partial")),
        "worklist-sheet": words_of_paper(honest / "worklist.pdf"),
    }
    web = ROOT / "src/serve/web"
    for picture in (p.stem for p in FOLDER.glob("*.png")):
        if picture.startswith("worklist-") and picture not in found:
            found[picture] = words_of_page(honest / "report.html", 2 * FIRST_SCREEN) + style
        elif picture.startswith("screen-"):
            page = web / f"{picture.split('-')[1]}.js"
            found[picture] = files("src/serve/web/screen.css") + (words_of_script(page) if page.exists() else "")
    return found


def main():
    program = Path(sys.argv[1]).resolve()
    given = Path(sys.argv[3]) if sys.argv[2:3] == ["--demo"] else None
    if not shutil.which("pdftotext"):
        print("skipped: pdftotext is not there")
        return 77
    with tempfile.TemporaryDirectory() as name:
        texts = shown(program, Path(name), given)
    now = {picture: hashlib.sha256(text.encode()).hexdigest()[:16] for picture, text in texts.items()}
    if sys.argv[2:] == ["--write"]:
        NOTED.write_text(json.dumps(now, indent=1, sort_keys=True) + "\n")
        return 0
    noted = json.loads(NOTED.read_text())
    pictures = {path.stem for path in FOLDER.glob("*.png")}
    old = [p for p in sorted(pictures | set(noted)) if p not in pictures or noted.get(p) != now.get(p, "")]
    for picture in old:
        print(f"docs/pictures/{picture}.png is older than what it shows")
    if old:
        print("take the pictures anew: scripts/make_pictures.sh, look at them, and commit them with docs/pictures/sources.json")
    return bool(old)


sys.exit(main())
