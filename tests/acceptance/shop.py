"""A small plate made up for one case: files written, the program run, its answer read."""

import json
import shutil
import subprocess
import tempfile
from pathlib import Path

PITCH, DIAMETER = 31.75, 25.66


class Shop:
    """A folder with a job. `run` gives exit status, results (None where refused) and what was said."""

    def __init__(self, program):
        self.program = program
        self.folder = tempfile.TemporaryDirectory(prefix="plateproof-acceptance-")
        self.at = Path(self.folder.name)

    def close(self):
        self.folder.cleanup()

    def write(self, name, text):
        (self.at / name).write_text(text, encoding="utf-8")

    def run(self, command="inspect", job="job.ini", *more):
        done = subprocess.run([self.program, command, job, "--json", *more], cwd=self.at, capture_output=True,
                              text=True, timeout=120)
        try:
            results = json.loads(done.stdout)
        except ValueError:
            results = None
        return done.returncode, results, done.stderr

    def report(self, job="job.ini"):
        """The whole report folder: the page as text."""
        done = subprocess.run([self.program, "inspect", job, "-q", "-o", "report"], cwd=self.at, capture_output=True,
                              text=True, timeout=120)
        page = self.at / "report" / "report.html"
        return done.returncode, page.read_text(encoding="utf-8") if page.exists() else "", done.stderr

    def papers(self, command="inspect", job="job.ini"):
        """Certificate as text, a string a page (None without pdftotext), and the QIF file."""
        subprocess.run([self.program, command, job, "-q", "-o", "papers"], cwd=self.at, capture_output=True, timeout=120)
        folder = self.at / "papers"
        qif = (folder / "results.qif").read_text(encoding="utf-8")
        if not shutil.which("pdftotext"):
            return None, qif
        text = subprocess.run(["pdftotext", "-layout", str(folder / "certificate.pdf"), "-"], capture_output=True,
                              text=True, timeout=60).stdout
        return [" ".join(page.split()) for page in text.split("\f")], qif


def grid(columns=5, rows=4, pitch=PITCH, left=-64.0, low=-48.0):
    """name -> (x, y), rows R1C1 on."""
    return {f"R{r + 1}C{c + 1}": (left + c * pitch, low + r * pitch) for r in range(rows) for c in range(columns)}


def nominal(holes):
    return "hole,x,y\n" + "".join(f"{n},{x:.3f},{y:.3f}\n" for n, (x, y) in holes.items())


def off(i):
    """A small error of the drill, the same each time, never zero."""
    return (((i * 37) % 11) - 5) * 0.004 + 0.0013, (((i * 53) % 13) - 6) * 0.003 + 0.0017


def readings(holes):
    """Rows of honest readings: (name, x, y, diameter)."""
    rows = []
    for i, (name, (x, y)) in enumerate(holes.items()):
        dx, dy = off(i)
        rows.append((name, x + dx, y + dy, DIAMETER + 0.002 * (i % 5) + 0.001))
    return rows


def measured(rows, head="hole,x,y,diameter"):
    return head + "\n" + "".join(f"{n},{x:.4f},{y:.4f},{d:.4f}\n" for n, x, y, d in rows)


def job(extra="", holes="", rules="", head="plate_id = P-7\ninspection_date = 2026-11-20\ndate = 2026-11-20\n",
        measured="measured = measured.csv\n"):
    return (f"[job]\ntitle = plate of the case\n{head}[plate]\noutline = disc\ndiameter = 400\nthickness = 30\n{extra}"
            f"[holes]\nnominal = nominal.csv\n{measured}tube_diameter = 1 in\npitch = 31.75\ntemperature = 20 C\n"
            f"position_limit = 0.3\n{holes}[rules]\n{rules}")


def said(results, *words):
    """Some caution holds all of the words."""
    return any(all(w in c for w in words) for c in results["cautions"])
