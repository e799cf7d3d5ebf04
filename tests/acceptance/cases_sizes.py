"""Silly sizes: the refusal names the key that is wrong, not another one, and always a place."""

import math

import invented_plate

STACK = """[job]
units = mm
[plate]
outline = disc
diameter = 660
thickness = 9.5
[survey]
uncertainty = 0.02
laid = free
[support]
kind = table
[foot]
force = 700
outer_diameter = 160
inner_diameter = 90
[holes]
nominal = nominal.csv
tube_diameter = 25.4
[holddown]
gap_limit = 0.3
[stack]
gap_limit = 0.3
[layer upper]
survey = upper.csv
[layer lower]
survey = lower.csv
"""

def refused(shop, change, begins, *words):
    """The job with the lines changed is refused: status 2, and what is said names the place."""
    text = invented_plate.HONEST
    for old, new in change:
        assert old in text, old
        text = text.replace(old, new)
    shop.write("silly.ini", text)
    status, results, said = shop.run(job="silly.ini")
    assert status == 2 and results is None, (status, said)
    assert said.startswith(begins) and all(word in said for word in words), said


RECTANGLE = ("outline = disc\ndiameter = 660\n", "outline = rectangle\nwidth = {}\nheight = {}\n")


def rectangle(width, height):
    return [(RECTANGLE[0], RECTANGLE[1].format(width, height)), ("thickness = 30\n", "thickness = 30 mm\n")]


def case_sizes_against_the_survey(shop):
    invented_plate.write(shop.at)
    refused(shop, rectangle("1e9 mm", "700 mm"), "silly.ini:13: ", "[plate] width = 1e+09 mm", "survey.csv spans 600 mm along x")
    refused(shop, rectangle("700 mm", "1e9 mm"), "silly.ini:14: ", "[plate] height = 1e+09 mm", "along y")
    refused(shop, rectangle("700 mm", "1e-300 mm"), "silly.ini:14: ", "[plate] height = 1e-300 mm", "less than any plate's")
    refused(shop, rectangle("700 mm", "2 mm"), "silly.ini:14: ", "[plate] height = 2 mm", "lie beyond it along y")
    refused(shop, rectangle("2 mm", "700 mm"), "silly.ini:13: ", "[plate] width = 2 mm", "lie beyond it along x")
    refused(shop, [("diameter = 660\n", "diameter = 60000 mm\n")], "silly.ini:13: ", "[plate] diameter = 60000 mm")
    # without a unit the number itself is doubted, not the thickness that does not fit it
    refused(shop, [(RECTANGLE[0], RECTANGLE[1].format("700", "1e-300"))], "silly.ini:14: ", "height has no unit")


def case_survey_in_another_unit(shop):
    """x and y read as mm, though exported in inches or centimetres: refused with the slip guessed."""
    for divided_by, guess in ((25.4, "inches read as mm?"), (10, "centimetres read as mm?"), (13, "unit of the survey\n")):
        invented_plate.write(shop.at)
        head, *rows = invented_plate.survey().splitlines()
        rows = [",".join(f"{float(cell) / divided_by:.4f}" for cell in row.split(",")) for row in rows]
        shop.write("survey.csv", "\n".join([head, *rows]) + "\n")
        refused(shop, [], "silly.ini:13: the plate is 660 x 660 mm", "survey.csv span", guess)


def case_layer_of_a_stack_in_another_unit(shop):
    shop.write("stack.ini", STACK)
    shop.write("nominal.csv", "hole,x,y\nA,0,0\nB,100,0\nC,0,100\n")
    points = [(x, y) for x in range(-300, 301, 100) for y in range(-300, 301, 100) if math.hypot(x, y) <= 320]
    for name, unit in (("upper", 1), ("lower", 25.4)):
        rows = [f"{x / unit:.4f},{y / unit:.4f},{0.3 * (x / 320) ** 2:.4f}" for x, y in points]
        shop.write(f"{name}.csv", "x,y,z\n" + "\n".join(rows) + "\n")
    status, results, said = shop.run("stack", "stack.ini")
    assert status == 2 and results is None, (status, said)
    assert said.startswith("stack.ini:5: ") and "the points of lower.csv span" in said and "inches read as mm?" in said, said


def case_sizes_that_pass(shop):
    """The plate as it is, and one surveyed over half its width only: no refusal for its size."""
    invented_plate.write(shop.at)
    shop.write("wide.ini", invented_plate.HONEST.replace(RECTANGLE[0], RECTANGLE[1].format("1200", "700")))
    for job in ("honest.ini", "wide.ini"):
        status, results, said = shop.run(job=job)
        assert status == 1 and results, said


def case_refusals_without_a_line_name_file_and_section(shop):
    """A survey that no surface fits: the points lie along one line of the plate, but for one off it."""
    invented_plate.write(shop.at)
    rows = [f"{x},{0.001 * (x % 7)},0" for x in range(-300, 301, 50)] + ["0,200,0", "0,-200,0"]
    shop.write("survey.csv", "x,y,z\n" + "\n".join(rows) + "\n")
    status, results, said = shop.run(job="honest.ini")
    if results is None:
        assert status == 2 and (said.startswith("honest.ini: [survey]") or said.startswith("survey.csv")), said
    # the hold-down of a survey alone has nothing to hold: said of the job
    status, _, said = shop.run("holddown", "honest.ini")
    assert status == 2 and said.startswith("honest.ini: ") and "[support]" in said, said


def case_share_nearly_all_common(shop):
    """common_share = 99.9999 %: the probability is there, or a caution says that it is not."""
    invented_plate.write(shop.at)
    # no hole is surely out, and each may be: nothing settles by itself
    for file in ("nominal.csv", "measured.csv"):
        kept = [line for line in (shop.at / file).read_text(encoding="utf-8").splitlines()
                if not any(invented_plate.name(place) in line for place in invented_plate.FAULTS)]
        shop.write(file, "\n".join(kept) + "\n")
    text = invented_plate.HONEST.replace("uncertainty_diameter = 0.008", "uncertainty_diameter = 0.05")
    given = {}
    for share in ("0 %", "99.99 %", "99.9999 %", "99.9999999999 %", "100 %"):
        shop.write("share.ini", text.replace("position_limit", f"common_share = {share}\nposition_limit"))
        _, results, said = shop.run(job="share.ini")
        assert results, said
        for what in ("diameter", "ligament"):
            p = results["holes"][what].get("conformance_probability")
            told = any("truly conform is not given" in c and what in c for c in results["cautions"])
            assert (p is None) == told, (share, what, p, results["cautions"])
        given[share] = results["holes"]["diameter"].get("conformance_probability")
    assert 0 < given["0 %"] < given["100 %"] < 1, given
    assert given["99.9999999999 %"] is None, given
    assert all(p is None or given["0 %"] <= p < 1 for p in given.values()), given
    assert abs(given["99.9999 %"] - given["100 %"]) < 0.001, given
