#!/usr/bin/env python3
"""What a history answers, against numpy and scipy; what it refuses, and that a refusal changes nothing.

    questions.py PROGRAM
"""
import csv
import math
import re
import shutil
import sqlite3
import sys
import tempfile
import unittest
from pathlib import Path

import numpy
from plates import Shop
from scipy import stats

PROGRAM = str(Path(sys.argv[1]).resolve()) if len(sys.argv) > 1 else ""


def day(i):
    return f"2026-{1 + i // 28:02d}-{1 + i % 28:02d}"


class Questions(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.shop = Shop(PROGRAM, self.place.name)
        self.random = numpy.random.default_rng(5)

    def tearDown(self):
        self.place.cleanup()

    def many(self, values, **more):
        names = [self.shop.flat(f"P{i:02d}", v, day(i), **{k: f(i) for k, f in more.items()})
                 for i, v in enumerate(values)]
        self.shop.add(*names)

    # --- charts ---

    def test_a_plate_beyond_its_limits_is_a_signal(self):
        values = list(self.random.normal(0.5, 0.02, 24)) + [0.9]
        self.many(values)
        chart = self.shop.ask("chart", "flatness", "--base", 24)
        ranges = numpy.abs(numpy.diff(values[:24])).mean()
        self.assertAlmostEqual(chart["centre"], numpy.mean(values[:24]), places=12)
        self.assertAlmostEqual(chart["upper"], numpy.mean(values[:24]) + 2.66 * ranges, places=12)
        self.assertEqual(chart["signals"]["beyond"], [25])
        self.assertEqual(chart["moving_range"]["signals"], [25])
        self.assertFalse(chart["provisional"])

    def test_seven_on_one_side_is_a_hint(self):
        self.many([0.5, 0.45, 0.52, 0.44] + [0.51] * 7)
        signals = self.shop.ask("chart", "flatness")["signals"]
        self.assertEqual((signals["beyond"], signals["run of 7"]), ([], [11]))

    def test_seven_rising_is_a_hint(self):
        self.many([1, 2, 1, 2, 3, 4, 5, 6, 7, 8])
        self.assertEqual(self.shop.ask("chart", "flatness")["signals"]["trend of 7"], [9, 10])

    def test_an_event_starts_the_machine_anew(self):
        self.many([1, 1.1, 1, 1.1, 2, 2.1, 2], machine=lambda i: "borer" if i != 2 else "mill")
        self.shop.run("note", self.shop.file, "new screw", "--machine", "borer", "--date", day(4))
        chart = self.shop.ask("chart", "flatness", "--where", "machine=borer")
        self.assertEqual(chart["plates"], ["P04", "P05", "P06"])
        self.assertEqual(chart["since"], {"date": day(4), "text": "new screw"})
        self.assertEqual(self.shop.ask("chart", "flatness")["plates"], ["P02", "P04", "P05", "P06"])

    def test_the_latest_stage_of_a_plate_counts(self):
        for name, stage, value in (("a", "after drilling", 1.0), ("b", "after rework", 0.5)):
            self.shop.flat(name, value, job={"plate_id": "P1", "stage": stage})
        self.shop.flat("c", 0.7, job={"plate_id": "P2", "stage": "after drilling"})
        self.shop.add("b", "a", "c")
        self.assertEqual(sorted(self.shop.ask("chart", "flatness")["values"]), [0.5, 0.7])
        drilled = self.shop.ask("chart", "flatness", "--where", "stage=after drilling")
        self.assertEqual(sorted(drilled["values"]), [0.7, 1.0])

    def test_dates_pick_plates(self):
        self.many([1, 2, 3, 4, 5])
        chart = self.shop.ask("chart", "flatness", "--since", day(1), "--until", day(3))
        self.assertEqual(chart["values"], [2, 3, 4])

    def test_shares_that_vary_widen_their_limits(self):
        counts = [12, 60, 20, 71, 15, 66, 18, 58]
        for i, out in enumerate(counts):
            self.shop.report(f"P{i}", day(i), holes={"measured": 1000, "position": {"out": out, "verdict": "conforms"}})
        self.shop.add(*[f"P{i}" for i in range(8)])
        share = self.shop.ask("share", "outside")
        p = numpy.array(counts) / 1000
        centre = p.mean()
        s = numpy.sqrt(centre * (1 - centre) / 1000)
        spread = numpy.abs(numpy.diff((p - centre) / s)).mean() / 1.128
        self.assertTrue(share["widened"])
        self.assertAlmostEqual(share["spread"], spread, places=9)
        self.assertAlmostEqual(share["upper"][0], min(1, centre + 3 * s * spread), places=12)
        self.assertAlmostEqual(share["dispersion"]["p"], stats.chi2.sf((((p - centre) / s) ** 2).sum(), 7), places=12)

    # --- capability ---

    def test_capability_takes_plates_as_the_unit(self):
        data = [self.random.normal(25.7 + shift, 0.01, 60 + 10 * i) for i, shift in
                enumerate(self.random.normal(0, 0.008, 6))]
        for i, d in enumerate(data):
            self.shop.report(f"P{i}", day(i), rows=[(0, 0, x) for x in d])
        self.shop.add(*[f"P{i}" for i in range(6)])
        got = self.shop.ask("capability", "diameter", "--lower", 25.6, "--upper", 25.8)
        means = numpy.array([d.mean() for d in data])
        within2 = sum(((d - d.mean()) ** 2).sum() for d in data) / (sum(map(len, data)) - 6)
        v1, v2 = means.var(ddof=1), within2 * (1 - numpy.mean([1 / len(d) for d in data]))
        total = (v1 + v2) ** 0.5
        self.assertAlmostEqual(got["total"], total, places=11)
        self.assertAlmostEqual(got["Ppk"], min(means.mean() - 25.6, 25.8 - means.mean()) / 3 / total, places=9)
        df2 = sum(map(len, data)) - 6
        high = v1 + v2 + numpy.hypot((5 / stats.chi2.ppf(.025, 5) - 1) * v1, (df2 / stats.chi2.ppf(.025, df2) - 1) * v2)
        self.assertAlmostEqual(got["Pp_interval"][0], .2 / 6 / high ** 0.5, places=8)
        self.assertLess(got["Ppk_interval"][0], got["Ppk"])
        self.assertLess(got["Ppk"], got["Ppk_interval"][1])

    def test_tie_rod_holes_are_no_tube_holes(self):
        rows = [(0, 0, x) for x in self.random.normal(25.7, 0.01, 40)]
        self.shop.report("P1", rows=rows + [(0, 0, 16.0)], holes={"others": [{"hole": "H40"}]})
        self.shop.report("P2", rows=rows)
        self.shop.add("P1", "P2")
        got = self.shop.ask("capability", "diameter", "--lower", 25.6)
        self.assertEqual(got["holes"], 80)
        self.assertIsNone(got["Cp"])

    def test_positions_off_centre_and_uneven(self):
        shift, axes = numpy.array([0.05, -0.02]), numpy.array([0.04, 0.015])
        for i in range(5):
            e = shift + self.random.normal(0, 1, (300, 2)) * axes
            self.shop.report(f"P{i}", day(i), rows=[(x, y, 25.7) for x, y in e])
        self.shop.add(*[f"P{i}" for i in range(5)])
        got = self.shop.ask("capability", "position", "--limit", 0.25)
        drawn = numpy.hypot(*(shift[:, None] + axes[:, None] * numpy.random.default_rng(1).normal(0, 1, (2, 1000000))))
        self.assertAlmostEqual(got["median"] / (2 * numpy.median(drawn)), 1, delta=0.03)
        self.assertAlmostEqual(got["q99865"] / (2 * numpy.quantile(drawn, .99865)), 1, delta=0.04)
        self.assertLess(got["Ppk_interval"][0], got["Ppk"])

    # --- trend, causes, tools ---

    def test_a_trend_is_least_squares(self):
        values = 0.5 + 0.01 * numpy.arange(30) + self.random.normal(0, 0.02, 30)
        self.many(values)
        got = self.shop.ask("trend", "flatness")
        line = stats.linregress(numpy.arange(1, 31), values)
        self.assertAlmostEqual(got["slope"], line.slope, places=12)
        if not got["widened"]:
            self.assertAlmostEqual(got["p"], line.pvalue, delta=1e-9)

    def test_a_heat_that_differs_goes_with_the_figure(self):
        values = [self.random.normal(0.5 + (0.2 if i % 3 == 0 else 0), 0.02) for i in range(24)]
        self.many(values, job=lambda i: {"heat_number": f"H{i % 3}", "supplier": "AB"[i % 2]})
        tests = {t["by"]: t for t in self.shop.ask("causes", "flatness")["tests"]}
        groups = [[v for i, v in enumerate(values) if i % 3 == k] for k in range(3)]
        f = stats.f_oneway(*groups)
        self.assertAlmostEqual(tests["heat"]["F"], f.statistic, delta=1e-6 * f.statistic)
        self.assertAlmostEqual(tests["heat"]["p_adjusted"], 2 * f.pvalue, delta=1e-6 * f.pvalue)
        self.assertTrue(tests["heat"]["found"])
        self.assertFalse(tests["supplier"]["found"])

    def test_factors_that_change_together_are_one(self):
        self.many([1, 2, 1.1, 2.1, 1.2, 2.2], job=lambda i: {"heat_number": f"H{i % 2}"},
                  machine=lambda i: ["borer", "mill"][i % 2])
        tests = self.shop.ask("causes", "flatness")["tests"]
        self.assertEqual([(t["by"], t["same_as"]) for t in tests], [("heat", ["machine"])])

    def test_a_heat_of_one_plate_is_left_out_and_named(self):
        self.many([1, 2, 1.1, 2.1, 9], job=lambda i: {"heat_number": f"H{i % 2}" if i < 4 else "H9"})
        test = self.shop.ask("causes", "flatness")["tests"][0]
        self.assertEqual(test["left_out"], ["H9"])

    def tools(self, count, **more):
        for i in range(count):
            runs = [{"tool": f"T{i}", "first_order": 1, "holes": 300, "used_before": 0, "level": 25.7 + 0.001 * i,
                     "slope": -1e-4, "slope_se": 1e-6, "scatter": 0.004, **more}]
            self.shop.flat(f"P{i}", 0.5 + 0.01 * (i % 2), day(i), holes={"diagnosis": {"tool_runs": runs}})
        self.shop.add(*[f"P{i}" for i in range(count)])

    def test_two_tools_give_no_sure_life(self):
        self.tools(2)
        got = self.shop.ask("tools", "--lower", 25.6)
        self.assertIsNone(got["life_sure"])
        self.assertGreater(got["life"], 0)
        self.assertIn("at least 3 tools", " ".join(got["cautions"]))

    def test_no_life_at_all_is_explained(self):
        self.tools(4)
        got = self.shop.ask("tools", "--lower", 25.699)
        self.assertEqual(got["life"], 0)
        self.assertIn("already of new tools", " ".join(got["cautions"]))
        self.assertNotIn("already of new tools", " ".join(self.shop.ask("tools", "--lower", 25.6)["cautions"]))

    def test_the_page_marks_how_long_a_tool_lasts(self):
        self.tools(5)
        limits = ("--lower", "25.66")
        lives = self.shop.ask("tools", *limits)
        self.shop.run("page", self.shop.file, "-o", "out", *limits)
        page = (self.shop.folder / "out" / "history.html").read_text()
        for word, life in (("life", lives["life"]), ("sure", lives["life_sure"])):
            said = re.findall(rf'x="([0-9.]+)" y="230\.0" text-anchor="\w+">{word} ([0-9]+)</text>', page)
            self.assertEqual([int(holes) for _, holes in said], [math.floor(life)])
            self.assertIn(f'd="M{said[0][0]} 16.0L{said[0][0]} 216.0"', page)

    def test_dates_beneath_a_chart_do_not_overlap(self):
        for i in range(12):
            self.shop.flat(f"P{i}", 0.5 + 0.01 * (i % 3), day(i))
        self.shop.add(*[f"P{i}" for i in range(12)])
        self.shop.run("note", self.shop.file, "new screw", "--date", day(8))
        self.shop.run("page", self.shop.file, "-o", "out")
        page = (self.shop.folder / "out" / "history.html").read_text()
        self.assertTrue(">Flatness, mm</h2>" in page)
        chart = page[page.index('id="chart-1"'):].split("</svg>")[0]
        share = {"start": 0, "middle": 0.5, "end": 1}
        starts = sorted(float(x) - 70 * share[anchor] for x, anchor in
                        re.findall(r'x="([0-9.]+)" y="338\.0" text-anchor="(\w+)">\d{4}-\d\d-\d\d</text>', chart))
        self.assertGreater(len(starts), 1)
        self.assertTrue(all(b - a > 70 for a, b in zip(starts, starts[1:])), starts)

    def test_what_no_model_knows_is_said_as_a_bound(self):
        for i in range(5):
            self.shop.report(f"P{i}", day(i), rows=[(*e, 25.7) for e in self.random.normal(0, 0.02, (100, 2))])
        self.shop.add(*(f"P{i}" for i in range(5)))
        for limit, said in ((0.4, r"below 0\.0001 %"), (0.1, r"[1-9](\.[0-9]+)? %")):
            self.assertRegex(self.shop.run("capability", self.shop.file, "position", "--limit", limit).stdout,
                             rf"share outside {said} \(modelled\)")

    def test_short_runs_are_no_tools(self):
        self.tools(3, holes=19)
        self.assertIn("20 holes", self.shop.run("tools", self.shop.file, "--lower", 25.6, status=2).stderr)

    # --- the page ---

    def test_the_page_shows_what_the_chart_says(self):
        self.many([0.5, 0.52, 0.49, 0.51, 0.5, 0.52, 0.5, 0.51, 0.5, 0.51, 0.9], job=lambda i: {"serial": "<b>"})
        self.shop.run("page", self.shop.file, "-o", "out")
        page = (self.shop.folder / "out" / "history.html").read_text()
        self.assertIn("1 beyond the limits", page)
        self.assertIn("<li>P10, " + day(10) + ": 0.9 mm</li>", page)
        asked = self.shop.ask("chart", "flatness")
        self.assertIn(f"limits {asked['lower']:.5g} to {asked['upper']:.5g}, moving", page)
        self.assertEqual(page.count("r=\"3.2\" fill=\"#0072b2\""), 11)
        rows = (self.shop.folder / "out" / "history.csv").read_text().splitlines()
        self.assertEqual(len(rows), 12)
        self.assertTrue(rows[-1].endswith(",yes"))
        self.shop.run("page", self.shop.file, "-o", "out")
        self.shop.run("page", self.shop.file, status=2)

    def test_marks_at_an_axis_are_round_and_alike(self):
        for turn, span in enumerate((0.0031, 0.07, 0.45, 1.9, 38, 760, 9000)):
            self.shop.file, out = f"{turn}.history", f"out-{turn}"
            values = span * (3 + self.random.random(12))
            self.shop.add(*(self.shop.flat(f"P{i:02d}", v, day(i)) for i, v in enumerate(values)))
            self.shop.run("page", self.shop.file, "-o", out)
            page = (self.shop.folder / out / "history.html").read_text()
            chart = page[page.index('id="chart-1"'):].partition("</svg>")[0]
            marks = [(float(y), v) for y, v in re.findall(r'y="([0-9.]+)" text-anchor="end">(-?[0-9.]+)</text>', chart)]
            for panel in ([m for m in marks if m[0] < 225], [m for m in marks if m[0] > 225]):
                self.check_marks(panel, span)

    def check_marks(self, panel, span):
        words = [v for _, v in panel]
        self.assertTrue(2 <= len(words) <= 8, (span, words))
        self.assertEqual(len({len(v.partition(".")[2]) for v in words}), 1, words)
        y, values = numpy.array([p[0] for p in panel]), numpy.array([float(v) for v in words])
        steps = numpy.diff(values)
        self.assertLess(abs(steps - steps[0]).max(), 1e-9 * abs(steps[0]), words)
        power = math.floor(math.log10(abs(steps[0]) * (1 + 1e-9)))
        self.assertIn(round(abs(steps[0]) / 10.0 ** power, 6), (1, 2, 5), words)
        self.assertLess(abs(values / steps[0] - numpy.round(values / steps[0])).max(), 1e-6, words)
        self.assertEqual(len(words[0].partition(".")[2]), max(0, -power), f"{words}: digits that say nothing")
        # where they stand: one scale, within the tenths of the drawing
        self.assertLess(abs(numpy.diff(y) - numpy.diff(y)[0]).max(), 0.25, panel)

    def test_the_page_has_every_part(self):
        random = numpy.random.default_rng(2)
        for i in range(24):
            name, rows = f"P{i:02d}", random.normal(0, 0.05, (120, 2))
            sizes = 25.75 + random.normal(0, 0.01) + random.normal(0, 0.012, 120)
            self.shop.report(name, day(i), rows=[(*e, d) for e, d in zip(rows, sizes)], flatness={"minimum_zone": {"flatness": 0.5}}, holes={
                "measured": 120, "position": {"largest": 0.3, "limit": 0.4, "out": int(random.poisson(9)), "verdict": "conforms"},
                "diameter": {"mean": float(sizes.mean()), "lower": 25.65, "upper": 25.85, "verdict": "conforms"},
                "diagnosis": {"terms": [{"name": "squareness", "value": 4e-5 + random.normal(0, 5e-6), "standard_error": 6e-6, "state": "found"}],
                              "tool_runs": [{"tool": f"T{i}", "first_order": 1, "holes": 120, "used_before": 0, "level": 25.79 + random.normal(0, .003),
                                             "slope": -4e-5 + random.normal(0, 5e-6), "slope_se": 2e-6, "scatter": 0.01}]}})
        self.shop.add(*(f"P{i:02d}" for i in range(24)))
        self.shop.run("note", self.shop.file, "new screw, <x>", "--machine", "borer", "--date", day(4))
        self.shop.run("page", self.shop.file, "-o", "out")
        out = self.shop.folder / "out"
        page = (out / "history.html").read_text()
        for part in ("events", "chart-1", "share-1", "capability-diameter", "capability-position", "tools"):
            self.assertIn(f'id="{part}"', page)
        for words in ("new screw, &lt;x&gt;", "moving range", "Ppk, by percentiles", "within a position of 0.4 mm", "Life, sure"):
            self.assertIn(words, page)
        asked = self.shop.ask("capability", "position", "--limit", "0.4")
        self.assertIn(f"{asked['Ppk']:.3f}, between {asked['Ppk_interval'][0]:.3f}", page)
        with open(out / "tools.csv", newline="") as text:
            self.assertEqual(len(list(csv.DictReader(text))), 24)
        with open(out / "capability.csv", newline="") as text:
            self.assertEqual(sum(r["of"] == "position" for r in csv.DictReader(text)), 20)
        same = [line for line in page.splitlines() if "0.5 mm" in line and "beyond" in line]
        self.assertEqual(same, [], "a figure that is always the same is beyond nothing")

    # --- what is refused ---

    def test_persons_are_left_out_unless_asked_for(self):
        self.shop.flat("P1", 1, job={"inspector": "A. Example"})
        self.shop.add("P1")
        self.assertNotIn(b"A. Example", (self.shop.folder / self.shop.file).read_bytes())
        shutil.rmtree(self.shop.folder / "P1")
        (self.shop.folder / self.shop.file).unlink()
        self.shop.flat("P1", 1, job={"inspector": "A. Example"})
        self.shop.run("add", self.shop.file, "P1", "--with-operator")
        self.assertEqual(self.sql("SELECT inspector FROM report"), [("A. Example",)])

    def sql(self, text):
        with sqlite3.connect(self.shop.folder / self.shop.file) as base:
            return base.execute(text).fetchall()

    def test_any_sql_tool_reads_it(self):
        self.many([1.5, 1.25])
        self.assertEqual(self.sql("SELECT plate_id, value, unit, machine FROM figures ORDER BY 1"),
                         [("P00", 1.5, "mm", "borer"), ("P01", 1.25, "mm", "borer")])

    def test_a_replaced_report_is_not_forgotten(self):
        self.many([1.5])
        self.shop.flat("P00", 1.25)
        said = self.shop.add("P00", status=2).stderr
        self.assertIn("sha256", said)
        self.assertIn("its judging differs", said)
        self.assertEqual(self.sql("SELECT value FROM figure"), [(1.5,)])
        self.shop.run("add", self.shop.file, "P00", "--replace")
        self.assertEqual(self.sql("SELECT value FROM figure"), [(1.25,)])
        self.assertEqual(self.sql("SELECT figures FROM replaced"), [('{"flatness.minimum_zone.flatness": 1.5}',)])

    def test_one_plate_under_two_names_counts_once(self):
        rows = [tuple(e) + (25.7,) for e in self.random.normal(0, 0.05, (60, 2))]
        moved = list(reversed(rows))  # another export of the same readings
        self.shop.add(self.shop.report("P1", rows=rows))
        self.shop.report("P2", rows=moved)
        said = self.shop.add("P2", status=2).stderr
        self.assertRegex(said, "P2: refused: has the readings, hole by hole, of plate 'P1'.*--replace")
        self.assertEqual(self.sql("SELECT plate_id FROM plate"), [("P1",)])
        self.shop.run("add", self.shop.file, "P2", "--replace")  # the first name was wrong
        self.assertEqual(self.sql("SELECT plate_id FROM plate JOIN report USING (plate)"), [("P2",)])
        self.assertEqual(self.sql("SELECT plate_id FROM plate"), [("P2",)])
        self.assertEqual(len(self.sql("SELECT * FROM replaced")), 1)
        again = [tuple(e) + (25.7,) for e in numpy.array(rows)[:, :2] + self.random.normal(0, 0.001, (60, 2))]
        self.shop.add(self.shop.report("P3", rows=again))

    def test_without_a_report_no_history_is_made(self):
        self.shop.add("nowhere", status=3)
        self.assertFalse((self.shop.folder / self.shop.file).exists())

    def test_a_report_without_a_name_is_refused_the_others_are_added(self):
        self.shop.flat("P1", 1)
        self.shop.flat("P2", 1, job={"plate_id": ""})
        self.shop.flat("P3", 1, "20.11.2026")
        said = self.shop.add("P1", "P2", "P3", status=2).stderr
        self.assertIn("does not say which plate", said)
        self.assertIn("YYYY-MM-DD", said)
        self.assertEqual(self.shop.ask("list")["plates"], 1)
        self.shop.add("P1", "nowhere", status=3)

    def test_files_that_are_no_history_are_never_touched(self):
        self.shop.flat("P1", 1)
        path = self.shop.folder / self.shop.file
        for make, words in ((self.text, "no database"), (self.other, "another program"), (self.newer, "newer plateproof")):
            make(path)
            before = path.read_bytes()
            said = self.shop.add("P1", status=2).stderr
            self.assertRegex(said, f"^shop.history: .*{words}.*\n$")
            self.shop.run("list", self.shop.file, status=2)
            self.assertEqual(path.read_bytes(), before)
            path.unlink()
        self.assertIn("not there", self.shop.run("list", self.shop.file, status=3).stderr)
        self.shop.run("list", ".", status=2)

    @staticmethod
    def text(path):
        path.write_text("hole,x,y\n" * 500)

    @staticmethod
    def other(path):
        with sqlite3.connect(path) as base:
            base.execute("CREATE TABLE a (b)")

    @staticmethod
    def newer(path):
        with sqlite3.connect(path) as base:
            base.execute("CREATE TABLE machine (b)")
            base.execute("PRAGMA application_id = 0x50504831")
            base.execute("PRAGMA user_version = 2")

    def test_slips_of_the_command_line(self):
        self.many([1, 2, 3])
        for words, said in (((["chart", "shop.history", "flatnes"]), "did you mean 'flatness"),
                            ((["cahrt", "shop.history", "flatness"]), "did you mean 'chart'"),
                            ((["chart", "shop.history", "flatness", "--where", "heat"]), "KEY=VALUE"),
                            ((["chart", "shop.history", "flatness", "--lower", "3"]), "no use for --lower"),
                            ((["chart", "shop.history", "flatness", "--base", "9"]), "more than the 3 plates"),
                            ((["chart", "shop.history", "flatness", "--since", "2026-13-01"]), "no date"),
                            ((["chart", "shop.history", "flatness", "--where", "heat=x"]), "no plate meets"),
                            ((["capability", "shop.history", "diameter"]), "--lower"),
                            ((["capability", "shop.history", "flatness"]), "not of 'flatness'"),
                            ((["capability", "shop.history", "diameter", "--lower", "25,6"]), "decimal point"),
                            ((["note", "shop.history", "x"]), "--date"),
                            ((["note", "shop.history", "x", "--date", "2026-01-01", "--machine", "y"]), "no machine")):
            self.assertIn(said, self.shop.run(*words, status=2).stderr, words)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
