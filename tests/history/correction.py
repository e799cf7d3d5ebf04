#!/usr/bin/env python3
"""Corrected lists: of plates drawn with a known error, drilled again to the list; and where nothing is corrected.

    correction.py PROGRAM
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
PITCH = 60.0
PLACES = numpy.array([(PITCH * i, PITCH * j) for i in range(-11, 12) for j in range(-11, 12)
                      if numpy.hypot(i, j) <= 11.2])
NAMES = [f"H{i:03d}" for i in range(len(PLACES))]
STEADY = dict(scale=30e-6, xy=-20e-6, square=60e-6)


def machine(places, scale=0.0, xy=0.0, square=0.0, wave=0.0):
    """What the machine does at these places; `wave` is a smooth error that no term describes."""
    x, y = places.T
    far = 660.0
    return numpy.array([(scale + xy) * x + square * y / 2 + wave * (x / far) ** 3,
                        (scale - xy) * y + square * x / 2 - wave * (y / far) ** 3]).T


class Corrections(InFolder):
    def setUp(self):
        super().setUp()
        self.random = numpy.random.default_rng(3)
        self.write("nominal.csv", ["hole", "x", "y", "kind"],
                   [(n, *p, "tube") for n, p in zip(NAMES, PLACES)] + [("V1", 700, 0, "other")])

    def plate(self, name, scatter=0.02, at=PLACES, machine_name="borer", wild=(), **terms):
        """A report folder of a plate that this machine drilled."""
        found = at + machine(at, **terms) + self.random.normal(0, scatter, at.shape)
        for i in wild:
            found[i] += 0.6
        self.write(f"{name}/holes.csv", "hole,face,x,y,nominal_x,nominal_y,dx,dy".split(","),
                   [(n, "entry", *f, *p, *(f - p)) for n, f, p in zip(NAMES, found, at)])
        said = {"format": "plateproof-results", "version": 1, "verdict": "conforms", "basis": "",
                "job": {"plate_id": name, "inspection_date": f"2026-02-{int(name[1:]):02d}"}, "inputs": []}
        if machine_name:
            said["machine"] = {"name": machine_name}
        (self.folder / name / "results.json").write_text(json.dumps(said))
        return name

    def run_program(self, *words, status=0):
        done = subprocess.run([PROGRAM, *map(str, words)], cwd=self.folder, capture_output=True, text=True)
        self.assertEqual(done.returncode, status, f"{words}: {done.stdout}{done.stderr}")
        return done

    def correct(self, plates, *words, status=0, out="out"):
        froms = [word for name in plates for word in ("--from", name)]
        done = self.run_program("correct", "nominal.csv", *froms, "--limit", 0.25, "-o", out, "--json", *words,
                                status=status)
        return json.loads(done.stdout) if status < 2 else done.stderr

    def shifts(self, out="out"):
        with open(self.folder / out / "corrected.csv", newline="") as text:
            rows = list(csv.DictReader(text))
        return {r["hole"]: (float(r["shift_x"]), float(r["shift_y"])) for r in rows}

    def steady(self, count, **more):
        vary = lambda v: v * (1 + self.random.normal(0, 0.1))
        return [self.plate(f"P{i + 1}", **{k: vary(v) for k, v in STEADY.items()}, **more) for i in range(count)]

    def test_the_shift_is_minus_what_repeats(self):
        said = self.correct(self.steady(6))
        self.assertEqual(said["decision"], "correct")
        got = numpy.array([self.shifts()[n] for n in NAMES])
        want = -machine(PLACES, **STEADY)
        want -= want.mean(axis=0)
        turn = (PLACES[:, 0] * want[:, 1] - PLACES[:, 1] * want[:, 0]).sum() / (PLACES ** 2).sum()
        want -= turn * numpy.array([-PLACES[:, 1], PLACES[:, 0]]).T
        self.assertLess(numpy.abs(got - want).max(), 0.015)
        self.assertEqual(self.shifts()["V1"], (0, 0))
        cross = (PLACES[:, 0] * got[:, 1] - PLACES[:, 1] * got[:, 0]).sum() / (PLACES ** 2).sum()
        self.assertLess(abs(cross) * 660, 1e-3)  # the pattern stays where the datums put it

    def test_the_promise_is_kept_by_plates_drilled_to_the_list(self):
        said = self.correct(self.steady(5))
        shift = numpy.array([self.shifts()[n] for n in NAMES])
        after = []
        for _ in range(8):
            vary = lambda v: v * (1 + self.random.normal(0, 0.1))
            e = shift + machine(PLACES, **{k: vary(v) for k, v in STEADY.items()})
            e += self.random.normal(0, 0.02, PLACES.shape)
            e -= e.mean(axis=0)
            after.append(numpy.sqrt((e ** 2).sum(axis=1).mean()))
        median, low, high = said["promise"]["rms_after"]
        self.assertLess(numpy.mean(after), said["promise"]["rms_before"][1])
        self.assertGreaterEqual(sum(low * 0.97 <= a <= high * 1.03 for a in after), 7, (after, low, high))

    def test_a_smooth_field_that_repeats_is_learned(self):
        plates = [self.plate(f"P{i + 1}", wave=0.08) for i in range(5)]
        said = self.correct(plates)
        self.assertTrue(said["field"]["used"])
        weights = {g["group"]: g["weight"] for g in said["field"]["groups"]}
        self.assertGreater(weights["degree 3"], 0.8)
        self.assertEqual(weights["degree 2"], 0)
        terms = self.correct(plates, "--use", "terms", out="terms", status=0)
        self.assertFalse(terms["field"]["used"])
        self.assertLess(said["promise"]["rms_after"][0], terms["promise"]["rms_after"][0])

    def test_where_nothing_is_nothing_is_corrected(self):
        for count in (1, 2, 3, 5):
            said = self.correct([self.plate(f"P{i + 1}") for i in range(count)], status=1)
            self.assertEqual(said["decision"], "do not correct")
        self.assertFalse((self.folder / "out").exists())

    def test_errors_that_do_not_repeat_are_left_alone(self):
        plates = [self.plate(f"P{i + 1}", scale=s * 40e-6, square=-s * 60e-6) for i, s in enumerate((1, -1, 1.1, -0.9, 0.8, -1))]
        said = self.correct(plates, status=1)
        states = {t["name"]: t["state"] for t in said["terms"]}
        self.assertEqual(states["scale common"], "does not repeat")

    def test_one_plate_promises_nothing(self):
        said = self.correct([self.plate("P1", square=200e-6)])
        self.assertIsNone(said["promise"])
        self.assertIn("no interval is promised", " ".join(said["why"]))
        applied = {t["name"]: t["applied"] for t in said["terms"]}
        self.assertEqual(applied["scale common"], 0)
        self.assertLess(applied["squareness"], 0.82 * 200e-6)

    def test_a_last_plate_that_differs_stops_everything(self):
        plates = self.steady(5) + [self.plate("P6", scale=-30e-6, xy=20e-6, square=-60e-6)]
        said = self.correct(plates, status=1)
        self.assertIn("enter what changed", said["why"][0])
        self.assertEqual({t["applied"] for t in said["terms"]}, {0})

    def test_a_drifting_term_is_left_alone(self):
        plates = [self.plate(f"P{i + 1}", scale=(10 + 12 * i) * 1e-6, square=60e-6) for i in range(7)]
        states = {t["name"]: t["state"] for t in self.correct(plates)["terms"]}
        self.assertEqual(states["scale common"], "drifts from plate to plate")
        self.assertEqual(states["squareness"], "corrected")

    def test_what_the_machine_sets_is_not_in_the_list(self):
        plates = self.steady(5)
        self.correct(plates, "--machine-sets", "scale, squareness", "--use", "terms")
        self.assertLess(max(abs(v) for s in self.shifts().values() for v in s), 0.012)

    def test_wild_holes_do_not_count(self):
        said = self.correct(self.steady(5, wild=(3, 77)))
        self.assertLess(said["plates"][0]["rms"], 0.07)
        self.assertEqual(said["decision"], "correct")

    def test_the_cap_scales_all_shifts(self):
        said = self.correct(self.steady(5), "--cap", 0.01)
        self.assertLess(said["shift"]["factor"], 1)
        self.assertLessEqual(said["shift"]["largest"], 0.0107)

    def test_bytes_do_not_depend_on_threads(self):
        plates = self.steady(4)
        a = self.correct(plates, "--threads", 1, out="a")
        b = self.correct(plates, "--threads", 8, out="b")
        self.assertEqual(a, b)
        self.assertEqual((self.folder / "a/corrected.csv").read_bytes(), (self.folder / "b/corrected.csv").read_bytes())

    def test_the_history_gives_the_plates_since_the_last_event(self):
        plates = self.steady(6)
        self.run_program("history", "add", "shop.history", *plates, "-q")
        self.run_program("history", "note", "shop.history", "new screw", "--machine", "borer", "--date", "2026-02-03")
        done = self.run_program("correct", "nominal.csv", "--history", "shop.history", "--machine", "borer", "--limit", 0.25,
                                "--json")
        self.assertEqual([p["plate_id"] for p in json.loads(done.stdout)["plates"]], ["P3", "P4", "P5", "P6"])
        self.assertFalse((self.folder / "nominal-correction").exists())

    def test_a_second_round_adds_up(self):
        """Plates drilled to a corrected list: the error is measured less commanded, so the shift stays."""
        plates = []
        for i in range(5):
            at = PLACES - machine(PLACES, **STEADY)
            name = self.plate(f"P{i + 1}", **STEADY)
            found = at + machine(at, **STEADY) + self.random.normal(0, 0.02, at.shape)
            self.write(f"{name}/holes.csv", "hole,face,x,y,nominal_x,nominal_y,dx,dy,commanded_x,commanded_y".split(","),
                       [(n, "entry", *f, *p, *(f - p), *a) for n, f, p, a in zip(NAMES, found, PLACES, at)])
            plates.append(name)
        said = self.correct(plates)
        means = {t["name"]: t["mean"] for t in said["terms"]}
        self.assertAlmostEqual(means["squareness"], STEADY["square"], delta=8e-6)

    def test_inspect_says_whether_the_promise_was_kept(self):
        self.correct(self.steady(5))
        shift = numpy.array([self.shifts()[n] for n in NAMES])
        job = ("[holes]\nnominal = nominal.csv\nmeasured = measured.csv\ncommanded = out/corrected.csv\n"
               "align = best-fit\ntube_diameter = 25.4 mm\npitch = 60\nposition_limit = 0.25\n[rules]\nhole_nominal = 25.8\n"
               "hole_under = 0.1\nhole_over = 0.1\nligament_standard = 5\nligament_minimum = 3\n")
        (self.folder / "next.ini").write_text(job)
        for terms, words in ((STEADY, "promise was kept"), ({k: -v for k, v in STEADY.items()}, "promise was NOT kept")):
            found = PLACES + shift + machine(PLACES, **terms) + self.random.normal(0, 0.019, PLACES.shape)
            self.write("measured.csv", ["hole", "x", "y", "diameter"], [(n, *f, 25.8) for n, f in zip(NAMES, found)])
            done = subprocess.run([PROGRAM, "holes", "next.ini"], cwd=self.folder, capture_output=True, text=True)
            self.assertIn(words, done.stdout, done.stderr)
            said = json.loads((self.folder / "next-report" / "results.json").read_text())
            promise = said["holes"]["promise"]
            self.assertEqual(promise["kept"], "NOT" not in words)
            self.assertEqual(promise["kept"], promise["rms"] <= promise["high"])
            self.assertIn("promise", [i["role"] for i in said["inputs"]])
            self.assertIn(words, (self.folder / "next-report" / "report.html").read_text())
            self.run_program("verify", "next-report")
        promise = self.folder / "out" / "correction.json"
        promise.write_text(promise.read_text().replace('"rms_after": [', '"rms_after": [ '))
        self.run_program("verify", "next-report", status=1)
        promise.unlink()
        self.run_program("verify", "next-report", status=3)
        subprocess.run([PROGRAM, "holes", "-q", "next.ini"], cwd=self.folder)
        said = json.loads((self.folder / "next-report" / "results.json").read_text())
        self.assertIsNone(said["holes"]["promise"])

    def test_the_job_has_a_section_for_it(self):
        names = self.steady(4)
        (self.folder / "next.ini").write_text(
            "[holes]\nnominal = nominal.csv\nposition_limit = 0.25\n[machine]\nname = borer\n"
            f"[correct]\nfrom = {', '.join(names)}\nmachine_sets = squareness\nuse = terms\ncap = 20 um\n")
        by_job = json.loads(self.run_program("correct", "next.ini", "-o", "a", "--json").stdout)
        by_words = self.correct(names, "--machine-sets", "squareness", "--use", "terms", "--cap", 0.02)
        self.assertEqual(by_job, by_words)
        self.assertEqual(by_job["shift"]["cap"], 0.02)
        over = json.loads(self.run_program("correct", "next.ini", "-o", "a", "--cap", 0.5, "--json").stdout)
        self.assertEqual(over["shift"]["cap"], 0.5)
        page = (self.folder / "a" / "correction.html").read_text()
        for words in ("rms at most", "Where the holes are sent", "set at the machine", names[3]):
            self.assertIn(words, page)
        text = (self.folder / "next.ini").read_text()
        (self.folder / "next.ini").write_text(text.replace("= squareness", "= bow"))
        self.assertRegex(self.run_program("correct", "next.ini", status=2).stderr, r"next\.ini:8: a machine is set by")

    def test_a_ligament_below_its_minimum_is_refused(self):
        names = self.steady(4)
        rules = ("[holes]\nnominal = nominal.csv\nposition_limit = 0.25\ntube_diameter = 25.4 mm\npitch = 60\n[rules]\n"
                 "hole_nominal = 25.8\nhole_under = 0.1\nhole_over = 0.1\nligament_standard = 34.2\nligament_minimum = %s\n"
                 f"[correct]\nfrom = {', '.join(names)}\n")
        (self.folder / "next.ini").write_text(rules % 3)
        said = json.loads(self.run_program("correct", "next.ini", "-o", "a", "--json").stdout)
        self.assertAlmostEqual(said["shift"]["smallest_ligament"], 34.2, delta=0.01)
        (self.folder / "next.ini").write_text(rules % 34.1999)
        said = json.loads(self.run_program("correct", "next.ini", "-o", "b", "--json", status=1).stdout)
        self.assertIn("ligament", said["why"][-1])
        self.assertFalse((self.folder / "b").exists())

    def test_refusals(self):
        one, two = self.plate("P1"), self.plate("P2", machine_name="mill")
        self.assertIn("of one machine", self.correct([one, two], status=2))
        self.assertIn("which machine", self.correct([self.plate("P3", machine_name=None)], status=2))
        self.assertIn("one plate", self.correct([one, one], status=2))
        self.assertIn("fewer than 60", self.correct([self.plate("P4", at=PLACES[:40])], status=2))
        self.run_program("correct", "nominal.csv", "--limit", 0.25, status=2)
        self.run_program("correct", "nominal.csv", "--from", "nowhere", status=3)
        self.run_program("correct", "nominal.csv", "--from", one, "--limit", "0,2", status=2)
        self.run_program("correct", "nominal.csv", "--from", one, "--machine-sets", "bow", status=2)

    def test_a_plate_under_two_names_is_one_plate(self):
        names = self.steady(3)
        again = self.plate("P9")
        with open(self.folder / names[0] / "holes.csv", newline="") as text:
            rows = list(csv.DictReader(text))
        for scatter, kept in ((0, 1), (1e-4, 0.95), (0.02, 1), (0, 0.5)):
            noise = self.random.normal(0, scatter, (len(rows), 2))
            for i, row in enumerate(rows):
                x, y = (float(row[k]) for k in ("x", "y"))
                other = 0.03 * (i >= kept * len(rows)) * self.random.normal(0, 1, 2)
                row["at"] = (x * (1 + 2e-5) + noise[i, 0] + other[0], y * (1 + 1e-5) + noise[i, 1] + other[1])
            self.write(f"{again}/holes.csv", "hole,face,x,y,nominal_x,nominal_y,dx,dy".split(","),
                       [(r["hole"], "entry", *r["at"], r["nominal_x"], r["nominal_y"], 0, 0) for r in rows])
            if scatter < 0.01 and kept > 0.9:
                self.assertIn("one plate under two names", self.correct([*names, again], status=2))
            else:
                self.correct([*names, again])

    def test_a_folder_of_ours_is_replaced_another_is_not(self):
        plates = self.steady(4)
        self.correct(plates)
        self.correct(plates)
        (self.folder / "mine").mkdir()
        (self.folder / "mine" / "photo.jpg").write_text("x")
        self.correct(plates, out="mine", status=2)
        self.assertEqual([p.name for p in (self.folder / "mine").iterdir()], ["photo.jpg"])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
