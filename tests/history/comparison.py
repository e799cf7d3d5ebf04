#!/usr/bin/env python3
"""Two reports of a plate: each kind of change by hand, and a whole plate reworked through the program.

    comparison.py PROGRAM
"""
import csv
import json
import subprocess
import sys
import unittest
from pathlib import Path

import numpy
from scratch import InFolder

PROGRAM = str(Path(sys.argv[1]).resolve()) if len(sys.argv) > 1 else ""
HOLES = "hole,face,x,y,position,position_class,diameter_min,diameter_max,diameter_class,u_position".split(",")


class Comparisons(InFolder):
    def report(self, name, rows=(), pairs=(), places=(), verdict="conforms", **more):
        (self.folder / name).mkdir()
        (self.folder / name / "results.json").write_text(json.dumps(
            {"format": "plateproof-results", "version": 1, "verdict": verdict, "basis": "", "inputs": [],
             "job": {"plate_id": "P1"}, **more}))
        if rows:
            self.write(f"{name}/holes.csv", HOLES, rows)
        if pairs:
            self.write(f"{name}/ligaments.csv", "hole_a,hole_b,face,ligament,class".split(","), pairs)
        if places:
            self.write(f"{name}/map.csv", "x,y,height,deviation,gap".split(","), [(*p, 0, "") for p in places])

    def compare(self, *words, status=0):
        done = subprocess.run([PROGRAM, "compare", "a", "b", "--json", *words], cwd=self.folder, capture_output=True, text=True)
        self.assertEqual(done.returncode, status, done.stderr)
        return json.loads(done.stdout) if status < 2 else done.stderr

    @staticmethod
    def at(name, position, judged, u=0.01, diameter=25.7, size="in tolerance"):
        return (name, "entry", 0, 0, position, judged, diameter, diameter, size, u)

    def test_every_kind_of_change(self):
        at = self.at
        self.report("a", [at("A", 0.2, "in"), at("B", 0.6, "out"), at("C", 0.6, "out"), at("D", 0.6, "out"),
                          at("E", 0.6, "out"), at("F", 0.1, "in"), at("G", 0.1, "in"), at("H", 0.45, "not proven")])
        self.report("b", [at("A", 0.6, "out"), at("B", 0.7, "out"), at("C", 0.61, "out"), at("D", 0.55, "out"),
                          at("E", 0.1, "in"), at("F", 0.2, "in"), at("X", 0.1, "in"), at("H", 0.6, "out")])
        said = self.compare("-o", "out", status=1)
        kinds = {i["hole"]: i["change"] for i in said["items"]}
        self.assertEqual(kinds, {"A": "new", "B": "worse", "C": "unchanged", "D": "better", "E": "repaired", "H": "worse"})
        self.assertEqual((said["only_before"], said["only_now"]), (1, 1))
        self.assertAlmostEqual(said["items"][0]["uncertainty"], 2 * (2 * 0.01 ** 2) ** 0.5, places=12)
        self.assertEqual(said["compared"]["position"], {"in_both": 7, "changed": 6, "uncertainty_not_stated": 0})
        with open(self.folder / "out" / "comparison.csv", newline="") as text:
            self.assertEqual({r["hole"]: r["change"] for r in csv.DictReader(text)}, kinds)

    def test_diameters_and_ligaments(self):
        at = self.at
        self.report("a", [at("A", 0.1, "in", diameter=25.5, size="undersize"), at("B", 0.1, "in", diameter=25.9, size="oversize")],
                    [("A", "B", "entry", 2.0, "thin"), ("B", "C", "entry", 6.0, "standard"), ("C", "D", "entry", 4.0, "in remainder")])
        self.report("b", [at("A", 0.1, "in", diameter=25.4, size="undersize"), at("B", 0.1, "in", diameter=25.8)],
                    [("A", "B", "entry", 2.5, "thin"), ("B", "C", "entry", 4.0, "in remainder"), ("C", "D", "entry", 4.1, "in remainder")])
        kinds = {(i["characteristic"], i["hole"]): i["change"] for i in self.compare(status=1)["items"]}
        self.assertEqual(kinds, {("diameter", "A"): "worse", ("diameter", "B"): "repaired", ("ligament", "A"): "better",
                                 ("ligament", "B"): "worse"})

    def test_nothing_worse_is_status_0(self):
        for name in "ab":
            self.report(name, [self.at("A", 0.6, "out"), self.at("B", 0.1, "in")])
        said = self.compare()
        self.assertEqual(said["changes"], {"new": 0, "worse": 0, "unchanged": 1, "better": 0, "repaired": 0, "not judged now": 0})

    def test_a_verdict_that_got_worse_is_status_1(self):
        for name, verdict in (("a", "conforms"), ("b", "does not conform")):
            self.report(name, [self.at("A", 0.1, "in")], verdict=verdict)
        self.assertTrue(self.compare(status=1)["verdict_worse"])

    def test_how_much_the_face_moved(self):
        grid = [(50.0 * i, 40.0 * j) for j in range(12) for i in range(15)]
        x, y = numpy.array(grid).T
        bump = 0.8 * numpy.exp(-((x - 300) ** 2 + (y - 200) ** 2) / 8000)
        first = 0.2 * numpy.sin(x / 100)
        second = first + bump + 0.4 + 1e-3 * x - 2e-3 * y
        self.report("a", places=list(zip(x, y, first)), flatness={"minimum_zone": {"flatness": 0.4}})
        self.report("b", places=list(zip(x, y, second))[3:], flatness={"minimum_zone": {"flatness": 1.1}})
        said = self.compare("-o", "out")["face"]
        self.assertIn('class="word">the face before and now</p>', (self.folder / "out" / "comparison.html").read_text())
        x, y, z = x[3:], y[3:], (second - first)[3:]
        plane = numpy.c_[numpy.ones_like(x), x, y]
        left = z - plane @ numpy.linalg.lstsq(plane, z, rcond=None)[0]
        self.assertEqual((said["places"], said["x"], said["y"]), (len(x), 300, 200))
        self.assertAlmostEqual(said["rms"], (left ** 2).mean() ** 0.5, places=10)
        self.assertAlmostEqual(said["largest"], left.max(), places=10)

    def test_diameters_move_beyond_their_uncertainty_or_not(self):
        at = self.at
        for name, a, b in (("a", 25.95, 25.95), ("b", 25.955, 25.99)):
            self.report(name, [at("A", 0.1, "in", diameter=a, size="oversize"), at("B", 0.1, "in", diameter=b, size="oversize")],
                        holes={"diameter": {"u": 0.005}})
        said = self.compare(status=1)
        self.assertEqual([(i["hole"], i["change"], i["beyond"]) for i in said["items"]],
                         [("B", "worse", True), ("A", "unchanged", False)])
        self.assertAlmostEqual(said["items"][0]["uncertainty"], 2 * 0.005 * 2 ** 0.5, places=12)

    def test_where_no_uncertainty_is_stated_nothing_is_beyond_it(self):
        at = self.at
        for name, position in (("a", 0.2), ("b", 0.6)):
            self.report(name, [at("A", position, "in" if position < 0.5 else "out", u=""), at("B", position / 10, "in", u="")])
        said = self.compare("-o", "out", status=1)
        self.assertEqual(said["compared"]["position"], {"in_both": 2, "changed": 0, "uncertainty_not_stated": 2})
        self.assertNotIn("beyond", said["items"][0])
        with open(self.folder / "out" / "comparison.csv", newline="") as text:
            self.assertEqual([r["beyond"] for r in csv.DictReader(text)], [""])
        self.assertIn("no uncertainty is stated: how many changed cannot be told", (self.folder / "out" / "comparison.html").read_text())

    def test_a_hole_that_nobody_judges_any_more_is_not_repaired(self):
        self.report("a", [self.at("A", 0.6, "out"), self.at("B", 0.1, "in")])
        self.report("b", [self.at("A", 0.6, ""), self.at("B", 0.1, "")])
        self.assertEqual([(i["hole"], i["change"]) for i in self.compare()["items"]], [("A", "not judged now")])

    def test_a_wider_limit_is_said(self):
        for name, limit, judged in (("a", 0.4, "out"), ("b", 0.8, "in")):
            self.report(name, [self.at("A", 0.6, judged)], holes={"position": {"largest": 0.6, "limit": limit}})
        said = self.compare("-o", "out")
        self.assertEqual([(x["figure"], x["upper_before"], x["upper_now"]) for x in said["limits_changed"]],
                         [("holes.position.largest", 0.4, 0.8)])
        self.assertIn("are not the same", (self.folder / "out" / "comparison.html").read_text())

    def test_a_survey_from_another_side_is_said(self):
        grid = [(50.0 * i, 50.0 * j) for j in range(-8, 9) for i in range(-8, 9)]
        x, y = numpy.array(grid).T
        shape = lambda x, y: 0.6 * numpy.exp(-((x - 200) ** 2 + (y - 100) ** 2) / 20000)
        for name, z in (("a", shape(x, y)), ("b", shape(-x, -y))):
            self.report(name, places=list(zip(x, y, z)), flatness={"minimum_zone": {"flatness": 0.6}, "surface": {"standard_error": 0.01}})
        said = self.compare("-o", "out")["face"]
        self.assertIn('class="word">the face moved</p>', (self.folder / "out" / "comparison.html").read_text())
        self.assertEqual(said["would_agree"], "turned by 180 degrees")
        self.assertAlmostEqual(said["uncertainty"], 2 * 0.01 * 2 ** 0.5, places=12)

    def test_a_survey_of_the_same_face_moved_nothing(self):
        grid = [(50.0 * i, 50.0 * j) for j in range(-8, 9) for i in range(-8, 9)]
        x, y = numpy.array(grid).T
        noise = numpy.random.default_rng(1).normal(0, 0.002, len(x))
        for name, z in (("a", 0.001 * x), ("b", 0.001 * x + noise)):
            self.report(name, places=list(zip(x, y, z)), flatness={"minimum_zone": {"flatness": 0.6}, "surface": {"standard_error": 0.01}})
        self.assertNotIn("would_agree", self.compare()["face"])
        done = subprocess.run([PROGRAM, "compare", "a", "b", "-o", "out"], cwd=self.folder, capture_output=True, text=True)
        self.assertIn("no movement is shown", done.stdout)
        self.assertNotIn("repaired", done.stdout, "there are no holes")
        page = (self.folder / "out" / "comparison.html").read_text()
        self.assertIn('class="word">no movement is shown</p><p>surveys alone', page)
        with open(self.folder / "out" / "moved.csv", newline="") as text:
            rows = list(csv.DictReader(text))
        self.assertEqual(len(rows), len(x))
        self.assertAlmostEqual(float(rows[0]["now"]) - float(rows[0]["before"]), noise[0], places=12)

    def test_two_rounds_of_a_plate(self):
        nominal = [(f"H{i}", 40.0 * (i % 6), 40.0 * (i // 6)) for i in range(36)]
        self.write("nominal.csv", ["hole", "x", "y"], nominal)
        first = [(n, x, y, 25.5 if n == "H7" else 25.8, 1) for n, x, y in nominal]
        again = [("H7", *nominal[7][1:], 25.81, 2), ("H8", nominal[8][1] + 0.5, nominal[8][2], 25.8, 2)]
        self.write("measured.csv", ["hole", "x", "y", "diameter", "round"], first + again)
        (self.folder / "plate.ini").write_text(
            "[job]\nplate_id = P1\n[holes]\nnominal = nominal.csv\nmeasured = measured.csv\nalign = as-measured\n"
            "tube_diameter = 25.4 mm\npitch = 40\nposition_limit = 0.4\n[rules]\nhole_nominal = 25.8\nhole_under = 0.1\n"
            "hole_over = 0.1\nligament_standard = 5\nligament_minimum = 3\n")
        subprocess.run([PROGRAM, "inspect", "-q", "plate.ini"], cwd=self.folder)
        compare = lambda *words: subprocess.run([PROGRAM, "compare", "plate-report", *words], cwd=self.folder, capture_output=True, text=True)
        done = compare("--rounds", "1,2", "--json", "-o", "out")
        self.assertEqual(done.returncode, 1, done.stderr)
        said = json.loads(done.stdout)
        self.assertEqual({(i["hole"], i["characteristic"]): i["change"] for i in said["items"]},
                         {("H7", "diameter"): "repaired", ("H8", "position"): "new"})
        self.assertEqual((said["before"]["round"], said["now"]["round"]), ("round 1", "round 2"))
        self.assertTrue((self.folder / "out" / "comparison.html").exists())
        for words, status in ((("--rounds", "2,1"), 2), (("--rounds", "1,3"), 2), (("--rounds", "1"), 2), ((), 2),
                              (("plate-report", "--rounds", "1,2"), 2)):
            self.assertEqual(compare(*words).returncode, status, words)
        (self.folder / "measured.csv").write_text((self.folder / "measured.csv").read_text() + "H9,120,40,25.8,2\n")
        self.assertIn("measured.csv' than there is now", compare("--rounds", "1,2").stderr)
        (self.folder / "measured.csv").unlink()
        self.assertEqual(compare("--rounds", "1,2").returncode, 3)

    def test_what_cannot_be_compared(self):
        self.report("a", [self.at("A", 0.6, "out")])
        self.report("b", [self.at("B", 0.6, "out")])
        self.assertIn("in common", self.compare(status=2))
        (self.folder / "b" / "holes.csv").write_text("hole,face\nA,entry\n")
        self.assertRegex(self.compare(status=2), r"holes\.csv.* has no column")
        (self.folder / "b" / "results.json").unlink()
        self.compare(status=3)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
