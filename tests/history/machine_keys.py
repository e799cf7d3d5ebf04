#!/usr/bin/env python3
"""What a history needs of a report: who drilled it and with what, the list it was drilled to, the drilling order, each
tool's own line of wear. The lines are checked against numpy.polyfit.

    machine_keys.py PROGRAM
"""
import csv
import json
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import numpy

PROGRAM = str(Path(sys.argv[1]).resolve()) if len(sys.argv) > 1 else ""
JOB = """[job]
plate_id = P7
supplier = Nordblech
[plate]
outline = disc
diameter = 800
thickness = 30
[holes]
nominal = nominal.csv
measured = measured.csv
{holes}tube_diameter = 25.4 mm
pitch = 32
position_limit = 0.3
[rules]
hole_nominal = 25.8
hole_under = 0.1
hole_over = 0.1
ligament_standard = 5
ligament_minimum = 3
[machine]
name = borer 2
serial = 77-1
operator = A. Example
program = O1234
drilled = 2026-11-18
drilling_temperature = 23.5 C
"""
PLACES = [(f"H{10 * i + j:03d}", 32.0 * (i - 5) + 0.1, 32.0 * (j - 4.5)) for i in range(11) for j in range(10)]


def write(path, header, rows):
    with open(path, "w", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(header)
        writer.writerows(rows)


class MachineKeys(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.folder = Path(self.place.name)
        write(self.folder / "nominal.csv", ["hole", "x", "y"], PLACES)
        random = numpy.random.default_rng(12)
        self.scatter = random.normal(0, 0.012, (len(PLACES), 2))
        noise = random.normal(0, 0.002, len(PLACES))
        # T1 drills 60, T2 30, T1 again the last 20; T2 wears five times as fast
        self.tools = ["T1"] * 60 + ["T2"] * 30 + ["T1"] * 20
        count = list(range(60)) + list(range(30)) + list(range(60, 80))
        self.diameter = [25.8 - (5e-4 if t == "T2" else 1e-4) * k + e for t, k, e in zip(self.tools, count, noise)]
        self.measure()

    def tearDown(self):
        self.place.cleanup()

    def measure(self, shift=lambda x, y: (0, 0), columns=("tool",), extra=lambda i: ()):
        rows = []
        for i, (name, x, y) in enumerate(PLACES):
            sx, sy = shift(x, y)
            rows.append([name, x + sx + self.scatter[i, 0], y + sy + self.scatter[i, 1], self.diameter[i], i + 1,
                         *([self.tools[i]] if "tool" in columns else []), *extra(i)])
        write(self.folder / "measured.csv", ["hole", "x", "y", "diameter", "order", *columns], rows)

    def inspect(self, holes="", status=(0, 1)):
        (self.folder / "job.ini").write_text(JOB.format(holes=holes))
        run = subprocess.run([PROGRAM, "inspect", "-q", "job.ini"], cwd=self.folder, capture_output=True, text=True)
        self.assertIn(run.returncode, status if isinstance(status, tuple) else (status,), run.stderr)
        return run.stderr

    def results(self):
        return json.loads((self.folder / "job-report" / "results.json").read_text())

    def holes(self):
        with open(self.folder / "job-report" / "holes.csv", newline="") as text:
            return list(csv.DictReader(text))

    def test_who_drilled_it_stands_in_the_report(self):
        self.inspect()
        found = self.results()
        self.assertEqual(found["job"]["supplier"], "Nordblech")
        self.assertEqual(found["machine"], {"name": "borer 2", "serial": "77-1", "operator": "A. Example",
                                            "program": "O1234", "drilled": "2026-11-18", "drilling_temperature": 23.5})
        self.assertEqual([float(row["order"]) for row in self.holes()], list(range(1, 111)))
        page = (self.folder / "job-report" / "report.html").read_text()
        self.assertIn("borer 2", page)

    def test_each_tool_has_its_own_line(self):
        self.inspect()
        runs = self.results()["holes"]["diagnosis"]["tool_runs"]
        self.assertEqual([(r["tool"], r["first_order"], r["holes"], r["used_before"]) for r in runs],
                         [("T1", 1, 60, 0), ("T2", 61, 30, 0), ("T1", 91, 20, 60)])
        for run in runs:
            begin = run["first_order"] - 1
            y = numpy.array(self.diameter[begin:begin + run["holes"]])
            k = run["used_before"] + numpy.arange(run["holes"])
            (slope, level), cov = numpy.polyfit(k, y, 1, cov=True)
            self.assertAlmostEqual(run["slope"], slope, delta=1e-12)
            self.assertAlmostEqual(run["level"], level, delta=1e-9)
            self.assertAlmostEqual(run["slope_se"], cov[0, 0] ** 0.5, delta=1e-9)

    def test_a_wild_diameter_does_not_bend_the_line(self):
        self.diameter[59] += 0.4
        self.measure()
        self.inspect()
        run = self.results()["holes"]["diagnosis"]["tool_runs"][0]
        self.assertAlmostEqual(run["slope"], -1e-4, delta=4e-5)

    def test_a_tool_from_another_plate_counts_on(self):
        self.measure(columns=("tool", "tool_used"), extra=lambda i: (400 + i,))
        self.inspect()
        self.assertEqual(self.results()["holes"]["diagnosis"]["tool_runs"][0]["used_before"], 400)

    def test_causes_are_sought_from_where_the_machine_was_sent(self):
        """A machine 200 ppm too long, sent to places 200 ppm too short: the holes are right, the machine is not."""
        scale = 2e-4
        write(self.folder / "sent.csv", ["hole", "x", "y", "nominal_x", "nominal_y"],
              [(n, x * (1 - scale), y * (1 - scale), x, y) for n, x, y in PLACES])
        self.inspect()
        term = {t["name"]: t for t in self.results()["holes"]["diagnosis"]["terms"]}["scale common"]
        self.assertEqual(term["state"], "not found")
        plain = self.holes()
        self.inspect("commanded = sent.csv\n")
        found = self.results()
        term = {t["name"]: t for t in found["holes"]["diagnosis"]["terms"]}["scale common"]
        self.assertEqual(term["state"], "found")
        self.assertAlmostEqual(term["value"], scale, delta=3e-5)
        told = self.holes()
        for a, b in zip(plain, told):  # what is judged stays as it was
            self.assertEqual(a["position"], b["position"])
            self.assertEqual(a["position_class"], b["position_class"])
        self.assertAlmostEqual(float(told[0]["commanded_x"]), PLACES[0][1] * (1 - scale), delta=1e-9)
        self.assertIn("commanded", [i["role"] for i in found["inputs"]])

    def test_a_corrected_list_is_no_drawing(self):
        write(self.folder / "nominal.csv", ["hole", "x", "y", "shift_x", "shift_y"], [(*p, 0.01, 0) for p in PLACES])
        said = self.inspect(status=2)
        self.assertRegex(said, r"nominal\.csv:2:4: .*shift_x.*commanded")

    def refused(self, rows, words, header=("hole", "x", "y")):
        write(self.folder / "sent.csv", header, rows)
        said = self.inspect("commanded = sent.csv\n", status=2)
        self.assertRegex(said, words)
        self.assertFalse((self.folder / "job-report").exists())

    def test_a_wrong_commanded_list_is_refused(self):
        self.refused([(n, x / 25.4, y / 25.4) for n, x, y in PLACES], r"sent\.csv:2:2: .*unit")
        self.refused(PLACES[1:], r"sent\.csv: has no hole H000")
        self.refused([*PLACES, ("Z9", 1, 1)], r"sent\.csv:112:1: .*no hole of the nominal list")
        self.refused([*PLACES, PLACES[3]], r"sent\.csv:112:1: .*twice")
        self.refused([(n, x, y, x + 0.5, y) for n, x, y in PLACES], r"sent\.csv:2:4: .*another pattern",
                     ("hole", "x", "y", "nominal_x", "nominal_y"))


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
