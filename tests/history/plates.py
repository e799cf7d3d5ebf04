"""Report folders of made-up plates, as the program writes them, for tests of histories."""
import csv
import json
import subprocess
from pathlib import Path


class Shop:
    def __init__(self, program, folder):
        self.program, self.folder, self.file = program, Path(folder), "shop.history"

    def report(self, name, date="2026-01-01", machine="borer", job=None, holes=None, rows=None, **sections):
        """A folder NAME with results.json; rows: (dx, dy, diameter), written as holes.csv."""
        place = self.folder / name
        place.mkdir(exist_ok=True)
        said = {"format": "plateproof-results", "version": 1, "tool": {"name": "plateproof", "version": "0.1.0"},
                "verdict": "conforms", "basis": "test",
                "job": {"plate_id": name, "report_number": "1", "inspection_date": date, **(job or {})},
                "inputs": [{"role": "job", "file": "job.ini", "sha256": "a" * 64},
                           {"role": "measured", "file": "m.csv", "sha256": "b" * 64, "instrument": "arm"}]}
        if machine:
            said["machine"] = {"name": machine}
        if holes:
            said["holes"] = holes
        said.update(sections)
        (place / "results.json").write_text(json.dumps(said))
        if rows is not None:
            with open(place / "holes.csv", "w", newline="") as out:
                writer = csv.writer(out)
                writer.writerow("hole,face,x,y,nominal_x,nominal_y,dx,dy,diameter_min,diameter_max".split(","))
                for i, (dx, dy, d) in enumerate(rows):
                    x, y = 40.0 * (i % 20), 40.0 * (i // 20)
                    writer.writerow([f"H{i}", "entry", x + dx, y + dy, x, y, dx, dy, d, d])
        return name

    def flat(self, name, value, date="2026-01-01", **more):
        return self.report(name, date, flatness={"minimum_zone": {"flatness": value}}, **more)

    def run(self, *words, status=0):
        done = subprocess.run([self.program, "history", *map(str, words)], cwd=self.folder, capture_output=True,
                              text=True, timeout=120)
        assert done.returncode == status, f"{words}: exit {done.returncode}, not {status}: {done.stdout}{done.stderr}"
        return done

    def ask(self, question, *words):
        return json.loads(self.run(question, self.file, *words, "--json").stdout)

    def add(self, *names, **options):
        return self.run("add", self.file, *names, **options)
