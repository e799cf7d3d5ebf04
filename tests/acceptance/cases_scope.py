"""Frames, scope, limits, counts, coverage, and what nobody said."""

import csv
import json
import math
import random
import shutil
import subprocess
from pathlib import Path

from shop import DIAMETER, PITCH, grid, job, measured, nominal, off, readings, said

HOLES = grid()
LIMITS = "[survey]\nfile = survey.csv\nuncertainty = 0.01\nflatness_limit = 1\n"


def honest(shop, text=None, **more):
    shop.write("nominal.csv", nominal(HOLES))
    shop.write("measured.csv", text or measured(readings(HOLES)))
    shop.write("job.ini", job(**more))


def case_4_holes_that_leave_the_plate_are_named(shop):
    honest(shop)
    assert not said(shop.run()[1], "not whole within the plate's outline")
    honest(shop, extra="centre = 150, 0\n")  # the list is counted from the plate's middle, the plate is not
    inside = [n for n, (x, y) in HOLES.items() if math.hypot(x - 150, y) + DIAMETER / 2 < 200]
    results = shop.run()[1]
    assert said(results, f"{len(HOLES) - len(inside)} holes are not whole", "[plate] centre"), results["cautions"]
    honest(shop, extra="centre = 150, 0\n", holes="edge_ligament_minimum = 5\n")
    results = shop.run()[1]
    assert results["verdict"] == "does not conform" and not said(results, "not whole"), results["cautions"]


def survey(shop, step=40, keep=lambda x, y: True, height=lambda x, y: 0.002 * ((x * y) % 7)):
    points = [(x, y) for x in range(-180, 181, step) for y in range(-180, 181, step) if x * x + y * y < 195 ** 2 and keep(x, y)]
    shop.write("survey.csv", "x,y,z\n" + "".join(f"{x},{y},{height(x, y):.4f}\n" for x, y in points))


def moved(change):
    return measured([(n, *change(x, y), d) for n, x, y, d in readings(HOLES)])


def case_4_checks_stand_alone(shop):
    shop.write("nominal.csv", nominal(HOLES))
    shop.write("checks.csv", "hole,characteristic,result\n" + "".join(f"{n},go gauge,accepted\n" for n in HOLES))
    shop.write("job.ini", job(measured="checks = checks.csv\n"))
    status, results, err = shop.run()
    assert status == 0 and results["judged"] == ["check"], (err, results and results["judged"])
    assert results["verdict"] == "conforms", results["verdict"]
    assert any(l["what"] == "measured holes" for l in results["left_out"]), results["left_out"]
    shop.write("checks.csv", "hole,characteristic,result\nR1C1,no-go gauge,rejected\n")
    assert shop.run()[1]["verdict"] == "does not conform"


def case_4_places_stand_alone(shop):
    rows = readings(HOLES)
    places = "hole,x,y\n" + "".join(f"{n},{x:.4f},{y:.4f}\n" for n, x, y, _ in rows)
    honest(shop, places, holes="material_condition = maximum\nedge_ligament_minimum = 5\n")
    status, results, err = shop.run()
    holes = results["holes"]
    assert status == 0 and holes["position"]["verdict"] == "conforms", err
    assert [holes[k]["verdict"] for k in ("diameter", "ligament", "edge")] == ["not judged"] * 3, holes
    assert {"what": "diameter", "why": "no diameters were measured"} in [
        {k: o[k] for k in ("what", "why")} for o in results["left_out"]], results["left_out"]
    pages, _ = shop.papers()
    assert pages is None or "Hole places only: no certificate of the plate" in pages[0], pages
    honest(shop, places.replace(f"R2C3,{rows[7][1]:.4f}", f"R2C3,{rows[7][1] + 0.16:.4f}"),
           holes="material_condition = maximum\n")
    assert shop.run()[1]["verdict"] == "does not conform"  # no bonus from a diameter that nobody measured


def case_4_sizes_are_asked_for_where_they_are_needed(shop):
    data = Path(__file__).resolve().parents[2] / "data"
    for command, folder, job_file, short in (("bundle", "demo-bundle", "set.ini", "b3.csv"), ("roughing", "demo-stack", "roughing.ini", "roughed.csv"),
                                             ("stack", "demo-stack", "drilled.ini", "ada-holes.csv")):
        shutil.copytree(data / folder, shop.at / command)
        with open(shop.at / command / short, newline="") as text:
            rows = [row for row in csv.DictReader(line for line in text if not line.startswith("#"))]
        with open(shop.at / command / short, "w", newline="") as out:
            writer = csv.DictWriter(out, [c for c in rows[0] if c != "diameter"], extrasaction="ignore")
            writer.writeheader()
            writer.writerows(rows)
        status, results, err = shop.run(command, f"{command}/{job_file}", "-o", "out")
        assert status == 2 and results is None and f"{short}:" in err and "no column diameter" in err, (command, status, err)
        assert not (shop.at / "out").exists(), command


def case_4_sizes_under_a_word_that_is_not_understood(shop):
    text = measured(readings(HOLES), "hole,x,y,D mess")
    honest(shop, text)
    status, results, err = shop.run()
    assert status == 2 and "is it 'D mess'" in err and "measured_columns = D mess:diameter" in err, err
    honest(shop, text, holes="ignore_columns = D mess\n")
    assert shop.run()[1]["holes"]["diameter"]["verdict"] == "not judged"


def derive(shop, rows, *more):
    shop.write("measured.csv", measured(rows))
    return subprocess.run([shop.program, "pattern", "--from", "measured.csv", *more], cwd=shop.at, capture_output=True, text=True)


def case_4_a_pattern_from_the_measured_holes(shop):
    turn = complex(0.9986295, 0.0523360)  # 3 degrees
    for row, shift in ((complex(0, 1), 0), (complex(0.5, 0.8660254), 0), (complex(0, 1), 7.3)):  # the last: a lane
        rows = []
        for b in range(8):
            for a in range(9):
                z = PITCH * (a + b * row) * turn + complex(12, -7) + (shift * complex(0, 1) * turn + PITCH * row * turn if b > 3 and shift else 0)
                dx, dy = off(9 * b + a)
                rows.append((f"N{b}-{a}", z.real + dx, z.imag + dy, DIAMETER))
        done = derive(shop, rows, "--json")
        found = json.loads(done.stdout)
        assert abs(found["pitch"] - PITCH) < 0.003 and abs(abs(found["angle_deg"]) - 3) < 0.02, found
        assert found["layout"] == ("triangular" if row.real else "square") and found["blocks"] == (2 if shift else 1), found
        assert found["count"] == 72 and found["rms"] < 0.03, found
    shop.write("nominal.csv", derive(shop, rows, "-q").stdout)
    shop.write("job.ini", job())
    status, results, err = shop.run()
    assert results and results["holes"]["position"]["largest"] < 0.2, (err, results and results["holes"]["position"])
    assert results["verdict"] == "not proven" and said(results, "derived from the measured holes", "not the drawing"), results["cautions"]
    shop.write("job.ini", job().replace("position_limit = 0.3\n", ""))
    assert shop.run()[1]["verdict"] == "conforms"


def case_4_no_pattern_to_be_had(shop):
    rows = [(f"H{i}", 37.1 * ((i * 7) % 11) + i % 3, 29.3 * ((i * 5) % 13) + (i * i) % 7, DIAMETER) for i in range(40)]
    done = derive(shop, rows)
    assert done.returncode == 2 and "measured.csv" in done.stderr and done.stdout == "", (done.stdout[:200], done.stderr)


def centred(shop, text, holes=""):
    shop.write("nominal.csv", nominal(CENTRED))
    shop.write("measured.csv", text)
    shop.write("job.ini", job(holes=holes, rules="drift_limit = 0.3\n"))


CENTRED = grid(5, 5, left=-63.5, low=-63.5)


def symmetric_faces(view):
    text = "x,y,diameter,face\n"
    for i, (n, x, y, d) in enumerate(readings(CENTRED)):
        dx, dy = off(i)
        x, y = x + 6 * dx, y + 6 * dy
        ex, ey = view(x + 0.004, y + 0.002)
        text += f"{x:.4f},{y:.4f},{d:.4f},entry\n{ex:.4f},{ey:.4f},{d:.4f},exit\n"
    return text


def case_5_the_plate_was_turned_over(shop):
    centred(shop, symmetric_faces(lambda x, y: (-x, y)))
    status, results, err = shop.run()
    assert status == 2 and results is None and "exit_view = turned-about-y" in err, (err, results and results["verdict"])
    centred(shop, symmetric_faces(lambda x, y: (-x, y)), "exit_view = turned-about-y\n")
    status, results, err = shop.run()
    assert results and results["inputs"][2]["reading"]["exit_view"] == "turned-about-y", err


def case_5_symmetry_leaves_the_view_open(shop):
    text = "x,y,diameter,face\n"
    for i, (n, (x, y)) in enumerate(CENTRED.items()):
        dx, dy = off(i)
        text += f"{x + dx:.4f},{y + dy:.4f},{DIAMETER},entry\n{x - dy:.4f},{y + dx:.4f},{DIAMETER},exit\n"
    centred(shop, text)
    results = shop.run()[1]
    assert said(results, "symmetry leaves exit_view open"), results["cautions"]
    pages, _ = shop.papers()
    assert pages is None or any("exit view: through" in page for page in pages), pages


def case_6_frame_mistakes_in_words(shop):
    lopsided = {n: (x + (y * 0.5 if n.startswith("R1") else 0), y) for n, (x, y) in grid(5, 4, left=-80).items()}
    for change, words in ((lambda x, y: (-x, y), "mirrored"), (lambda x, y: (-y, x), "turned anticlockwise by 90.0"),
                          (lambda x, y: (y, x), "x and y exchanged"),
                          (lambda x, y: (x + 200, y + 150), "shifted by x 200.0, y 150.0 mm: the origin is elsewhere"),
                          (lambda x, y: (x / 25.4, y / 25.4), "inches read as millimetres")):
        shop.write("nominal.csv", nominal(lopsided))
        shop.write("measured.csv", measured([(n, *change(x, y), d) for n, x, y, d in readings(lopsided)]))
        shop.write("job.ini", job())
        status, results, err = shop.run()
        assert status == 2 and results is None and words in err, (words, err)


def case_6_lists_numbered_differently(shop):
    """From 0 and from 1, or to and fro and always from the left: a mistake of names, told as such."""
    places = list(grid(6, 5).values())
    shop.write("nominal.csv", nominal({str(i + 1): at for i, at in enumerate(places)}))
    shop.write("job.ini", job())
    from_zero = [str(i) for i in range(30)]
    to_and_fro = [str(i + 1 if i // 6 % 2 == 0 else i // 6 * 6 + 6 - i % 6) for i in range(30)]
    for names, words in ((from_zero, "29 of 29 measured holes lie where the nominal list has a hole of another name: "
                          "'1' on the place of '2', '2' on that of '3'"),
                         (to_and_fro, "12 of 30 measured holes")):
        shop.write("measured.csv", measured(readings(dict(zip(names, places)))))
        status, results, err = shop.run()
        assert status == 2 and results is None and words in err, (words, err)


def case_6_two_names_exchanged_are_a_result(shop):
    rows = readings(HOLES)
    (a, *at), (b, *there) = rows[:2]
    honest(shop, measured([(b, *at), (a, *there)] + rows[2:]))
    status, results, err = shop.run()
    assert status == 1 and results["holes"]["position"]["out"] == 2, err


def case_6_a_pattern_in_the_wrong_place_is_a_result(shop):
    honest(shop, moved(lambda x, y: (x + 8, y)))
    status, results, err = shop.run()
    assert status == 1 and results["verdict"] == "does not conform", err
    results["left_out"]  # only now


def case_6_a_datum_hole_out_of_place_is_a_result(shop):
    rows = readings(HOLES)
    name, x, y, d = rows[1]
    rows[1] = (name, x + 1, y + 12, d)
    honest(shop, measured(rows), holes=f"align = two-holes\ndatum_holes = {rows[0][0]}, {name}\n")
    status, results, err = shop.run()
    assert status == 1 and results["verdict"] == "does not conform", err
    assert said(results, "is a datum misnamed, misread or out of place", "turned by"), results["cautions"]


def case_7_flatness_only(shop):
    survey(shop)
    honest(shop, extra=LIMITS)
    status, results, err = shop.run("flatness")
    assert {"what": "holes", "why": "this run was of the flatness only"} in results["left_out"], results["left_out"]
    status, results, err = shop.run("holes")
    assert {"what": "flatness", "why": "this run was of the holes only"} in results["left_out"], results["left_out"]


def case_7_measured_left_out_of_the_job(shop):
    survey(shop)
    honest(shop, extra=LIMITS, measured="")
    status, page, err = shop.report()
    assert "Flatness only" in page and "no measured list is given" in page, err


def case_7_papers_of_a_part(shop):
    survey(shop)
    honest(shop, extra=LIMITS)
    for command, title in (("flatness", "Flatness only"), ("holes", "Holes only")):
        pages, qif = shop.papers(command)
        other = "holes" if command == "flatness" else "flatness"
        assert f"Not judged: {other} (this run was of the" in qif, qif[:900]
        if pages:
            assert pages[0].startswith(f"{title}: no certificate of the plate"), pages[0][:200]
            assert "Covers" in pages[0] and f"Left out: {other}" in pages[0], pages[0]
            assert title in pages[1], pages[1][:200]
    pages, qif = shop.papers("inspect")
    assert "Not judged: edge ligament, drill drift." in qif, qif[:900]
    if pages:
        assert pages[0].startswith("Dimensional inspection certificate") and "Covers" not in pages[0], pages[0][:200]


def case_7_a_holddown_study_is_no_certificate(shop):
    survey(shop, 20, height=lambda x, y: (x * x - y * y) / 20000)
    honest(shop, extra=LIMITS + "[support]\nkind = table\n[foot]\nforce = 2 kN\n[holddown]\ngap_limit = 0.3\n"
           "clamp_force_limit = 60 kN\n")
    pages, qif = shop.papers("holddown")
    text = " ".join(pages) if pages else None
    assert shop.run("holddown")[1]["left_out"][0]["what"] == "holes"
    if pages:
        assert pages[0].startswith("Hold-down study"), pages[0][:100]
        assert "seated at rest" in text and "stores energy" in text and "The plan" in text, text
        assert "Signatures" not in text and "hold point" not in text, text


def case_7_a_holddown_study_that_lacks_a_key(shop):
    survey(shop)
    honest(shop, extra=LIMITS + "[foot]\nforce = 1 kN\n[holddown]\ngap_limit = 0.05\n")
    assert {"what": "hold-down", "why": "[support] kind is not given"} in shop.run()[1]["left_out"]


def case_8_limits_set_by_hand(shop):
    honest(shop, rules="hole_over_limit = 0.4\nremainder_share = 20 %\n")
    results = shop.run()[1]
    assert said(results, "Limit set by hand: hole, above nominal, the remainder 0.4 mm", "tema-style gives 0.254 mm"), results["cautions"]
    assert said(results, "remainder, share of the holes 20 %", "gives 4 %"), results["cautions"]
    limit = next(l for l in results["rules"]["limits"] if l["name"] == "hole_over_limit")
    assert limit["by_hand"] and abs(limit["set_gives"] - 0.254) < 1e-9, limit
    pages, qif = shop.papers()
    assert "the remainder 0.4 mm in the job file; tema-style gives 0.254 mm" in qif, qif[:900]
    if pages:
        assert "0.4 mm in the job file; tema" in pages[0], pages[0]


def case_8_an_overridden_value_keeps_its_caution(shop):
    honest(shop)
    before = [c for c in shop.run()[1]["cautions"] if "from memory" in c]
    honest(shop, rules="hole_under = 0.1016\nhole_over = 0.0508\nhole_over_limit = 0.254\nligament_standard = 5\n")
    after = [c for c in shop.run()[1]["cautions"] if "from memory" in c]
    assert before and after == before, (before, after)


def case_8_sizes_that_limits_hang_on(shop):
    honest(shop)
    status, page, err = shop.report()
    for name, value in (("Thickness", "30 mm"), ("Tube", "25.4 mm"), ("Pitch", "31.75 mm"), ("Plate's size", "disc, diameter 400 mm")):
        assert f"<dt>{name}</dt><dd>{value}</dd>" in page, (name, page[page.find("The job"):][:2500])
    shop.write("job.ini", job(rules="part = baffle\nunsupported_span = 900\n"))
    assert "<dt>Unsupported span</dt><dd>900 mm</dd>" in shop.report()[1]


def case_8_a_flatness_rule_overridden(shop):
    survey(shop)
    shop.write("flat.ini", "[set]\nkind = flatness\ntitle = mine\nnote = seen in two sources\n[whole-plate]\nunit = mm\n"
               "source = a standard\nsure = A\nwidths = 1000\nrow = 0, -, 0.5\n")
    head = "[job]\nplate_id = P\n[plate]\noutline = disc\ndiameter = 400\nthickness = 30\nflatness_rule = flat.ini\n"
    shop.write("job.ini", head + LIMITS)
    status, results, err = shop.run("flatness")
    assert results, err
    assert said(results, "Limit set by hand: flatness 1 mm", "flat.ini gives 0.5 mm"), results["cautions"]
    assert said(results, "come from the file flat.ini", "nobody has checked"), results["cautions"]
    assert any(i["role"] == "flatness_rules" for i in results["inputs"]), results["inputs"]
    shop.write("job.ini", head + LIMITS.replace("flatness_limit = 1\n", ""))
    limit = next(l for l in shop.run("flatness")[1]["rules"]["limits"] if l["name"] == "flatness_limit")
    assert "its sources not checked" in limit["source"] and "standard" not in limit["source"], limit


def case_8_a_rule_file_of_ones_own(shop):
    own = (Path(__file__).parent.parent.parent / "data/rules/tema-style.ini").read_text(encoding="utf-8")
    shop.write("own.ini", own)
    honest(shop, rules="set = own.ini\n")
    status, results, err = shop.run()
    assert results, err
    assert said(results, "nobody has checked it"), results["cautions"]
    assert all("own.ini" in l["source"] or "job file" in l["source"] or "96" in l["source"] for l in results["rules"]["limits"])


def case_9_plugged_without_a_reference(shop):
    text = measured(readings(HOLES)).strip().split("\n")
    text = [text[0] + ",disposition,reference"] + [l + (",plugged," if i < 3 else ",plugged,NCR 7" if i < 5 else ",,") for i, l in enumerate(text[1:])]
    honest(shop, "\n".join(text) + "\n")
    results = shop.run()[1]
    assert "; 5 plugged, 3 of them without reference" in results["basis"], results["basis"]
    assert said(results, "without a reference (3)"), results["cautions"]


def case_9_a_bore_that_shrinks_and_a_failure_replaced(shop):
    text = "hole,x,y,diameter,round\n"
    for i, (n, x, y, d) in enumerate(readings(HOLES)):
        first = d + (0.6 if i == 4 else 0)
        text += f"{n},{x:.4f},{y:.4f},{first:.4f},1\n"
        if i == 4:
            text += f"{n},{x:.4f},{y:.4f},{d:.4f},2\n"
    honest(shop, text)
    results = shop.run()[1]
    assert said(results, "became smaller", "R1C5"), results["cautions"]
    assert said(results, "replaced by a later round", "R1C5"), results["cautions"]
    assert "1 reading superseded" in results["basis"], results["basis"]


def case_9_a_sleeve_may_shrink_a_bore(shop):
    text = "hole,x,y,diameter,round,disposition,reference\n"
    for i, (n, x, y, d) in enumerate(readings(HOLES)):
        text += f"{n},{x:.4f},{y:.4f},{d + (0.6 if i == 4 else 0):.4f},1,,\n"
        if i == 4:
            text += f"{n},{x:.4f},{y:.4f},{d:.4f},2,sleeved,NCR 3\n"
    honest(shop, text)
    results = shop.run()[1]
    assert not said(results, "became smaller") and not said(results, "replaced"), results["cautions"]
    assert "1 reading superseded" in results["basis"], results["basis"]


def case_9_a_bad_place_measured_away(shop):
    text = "hole,x,y,diameter,round\n"
    for i, (n, x, y, d) in enumerate(readings(HOLES)):
        text += f"{n},{x + (0.3 if i == 6 else 0):.4f},{y:.4f},{d},1\n" + (f"{n},{x:.4f},{y:.4f},{d},2\n" if i == 6 else "")
    honest(shop, text)
    results = shop.run()[1]
    assert results["verdict"] == "conforms" and said(results, "failing reading was replaced", "R2C2"), results["cautions"]


def case_9_exit_readings_of_half_the_plate(shop):
    text = "hole,x,y,diameter,face\n"
    for i, (n, x, y, d) in enumerate(readings(HOLES)):
        text += f"{n},{x:.4f},{y:.4f},{d},entry\n"
        if i < 10 and i != 1:
            text += f"{n},{x + 0.01:.4f},{y:.4f},{d},exit\n"
    honest(shop, text)
    results = shop.run()[1]
    assert said(results, "1 hole without an exit reading", "R1C2"), results["cautions"]
    assert "1 without exit reading" in results["basis"], results["basis"]


def case_9_as_many_as_the_list_has(shop):
    honest(shop)
    nominal_hash = next(i["sha256"] for i in shop.run()[1]["inputs"] if i["role"] == "nominal")
    pages, qif = shop.papers()
    if pages:
        assert "20: as many as the nominal list has" in pages[0] and nominal_hash[:12] in pages[0], pages[0]
    honest(shop, holes="tube_holes = 20\n")
    pages, qif = shop.papers()
    if pages:
        assert "20 by the job file" in pages[0], pages[0]


def case_9_an_exit_reading_missing(shop):
    text = "hole,x,y,diameter,face\n"
    for i, (n, x, y, d) in enumerate(readings(HOLES)):
        text += f"{n},{x:.4f},{y:.4f},{d},entry\n" + ("" if i == 7 else f"{n},{x + 0.01:.4f},{y:.4f},{d},exit\n")
    honest(shop, text)
    results = shop.run()[1]
    assert said(results, "without an exit reading", "R2C3"), results["cautions"]


def case_9_the_number_of_holes(shop):
    honest(shop, holes="tube_holes = 22\n")
    results = shop.run()[1]
    assert results["verdict"] == "not proven" and said(results, "tube_holes says 22"), results["cautions"]
    honest(shop, holes="tube_holes = 20\n")
    assert shop.run()[1]["verdict"] == "conforms"


def draw(shop, *more):
    text = subprocess.run([shop.program, "sample", "job.ini", "--count", "8", *more], cwd=shop.at, capture_output=True, text=True).stdout
    return text, [line.split(",")[0] for line in text.strip().split("\n")[1:]]


SAMPLE = "coverage = sample\nuncertainty_diameter = 0.01\nuncertainty_position = 0.01\n"


def case_10_how_the_sample_was_drawn(shop):
    honest(shop, holes=SAMPLE)
    text, drawn = draw(shop, "--seed", "7")
    shop.write("drawn.csv", text)
    rows = [r for r in readings(HOLES) if r[0] in drawn]
    honest(shop, measured(rows), holes=SAMPLE + "sample_list = drawn.csv\nsample_seed = 7\n")
    status, results, err = shop.run()
    assert status == 0 and results["verdict"] == "conforms", (err, results and results["cautions"])
    assert results["holes"]["sample"] == {"list": "drawn.csv", "seed": 7, "drawn": 8}, results["holes"]["sample"]
    assert any(i["role"] == "sample_list" for i in results["inputs"]), results["inputs"]
    assert said(results, "8 holes were drawn", "seed 7", "draws the same again"), results["cautions"]
    assert "conformance_probability" not in results["holes"]["diameter"], results["holes"]["diameter"]
    assert results["holes"]["diameter"]["sample"]["share_outside_bound"] > 0.1
    status, page, err = shop.report()
    assert "of the whole plate at most" in page and "truly conforms" not in page
    honest(shop, measured(rows[:-1]), holes=SAMPLE + "sample_list = drawn.csv\nsample_seed = 7\n")
    results = shop.run()[1]
    assert results["verdict"] == "not proven" and said(results, "Drawn and not measured", rows[-1][0]), results["cautions"]


def most_bad(holes, drawn, bad, risk=0.05):
    """The largest number of bad holes in the plate with which so few in the sample are no surprise; all counted."""
    def chance(k):
        return sum(math.comb(k, x) * math.comb(holes - k, drawn - x) for x in range(bad + 1)) / math.comb(holes, drawn)
    return max(k for k in range(bad, holes - drawn + bad + 1) if chance(k) > risk)


def case_10_a_bound_on_the_whole_plate_beside_every_share(shop):
    honest(shop, holes=SAMPLE)
    text, drawn = draw(shop, "--seed", "7")
    shop.write("drawn.csv", text)
    with_list = SAMPLE + "sample_list = drawn.csv\nsample_seed = 7\n"
    rows = [r for r in readings(HOLES) if r[0] in drawn]
    for bad in range(3):  # holes that take nearly all of the metal that they share with their neighbours
        wide = [(n, x, y, d + (4.5 if i < bad else 0)) for i, (n, x, y, d) in enumerate(rows)]
        honest(shop, measured(wide), holes=with_list, rules="ligament_standard = 4\nligament_minimum = 0.1\n"
               "hole_over = 9\nhole_over_limit = 9\ndecision = simple\n")
        results = shop.run()[1]
        said_of = {name: results["holes"][name]["sample"] for name in ("position", "diameter", "ligament")}
        assert said_of["ligament"]["holes"] == 8 and said_of["ligament"]["outside"] == bad, said_of
        pairs = min(31, 4 * most_bad(20, 8, bad))  # 5 by 4 holes, at most four neighbours each
        assert abs(said_of["ligament"]["share_outside_bound"] - pairs / 31) < 1e-12, (bad, said_of)
        for name in ("position", "diameter"):
            assert abs(said_of[name]["share_outside_bound"] - most_bad(20, 8, 0) / 20) < 1e-12, (bad, said_of)
        assert said(results, "of the ligaments are below the standard one", f"{bad} of 8 holes"), results["cautions"]
    page = shop.report()[1]
    assert "of the whole plate&#39;s pairs at most" in page or "of the whole plate's pairs at most" in page


def case_10_a_sample_that_was_picked(shop):
    honest(shop, holes=SAMPLE)
    results = shop.run()[1]
    assert said(results, "No list of the sample is given"), results["cautions"]
    text, drawn = draw(shop, "--seed", "7")
    shop.write("drawn.csv", text)
    honest(shop, holes=SAMPLE + "sample_list = drawn.csv\nsample_seed = 8\n")
    results = shop.run()[1]
    assert results["verdict"] == "not proven" and said(results, "not what seed 8 draws"), results["cautions"]
    assert said(results, "Measured and not drawn"), results["cautions"]
    shop.write("drawn.csv", text + "R9C9\n")
    status, results, err = shop.run()
    assert status == 2 and "drawn.csv:10:" in err and "no hole of that name" in err, err


def case_11_a_survey_of_one_side(shop):
    survey(shop, 20, lambda x, y: x < 0)
    shop.write("job.ini", "[job]\nplate_id = P\n[plate]\noutline = disc\ndiameter = 400\nthickness = 30\n" + LIMITS)
    results = shop.run("flatness")[1]
    assert results["verdict"] == "not proven" and said(results, "of the plate lies within a tenth"), results["cautions"]
    survey(shop, 30)
    results = shop.run("flatness")[1]
    assert results["verdict"] == "conforms" and results["flatness"]["surface"]["covered_share"] > 0.9, results["flatness"]
    shop.write("job.ini", job(extra=LIMITS, measured=""))
    shop.write("nominal.csv", nominal(HOLES))
    page = shop.report()[1]
    assert "which cover 100 %" in page


def case_12_what_nobody_said(shop):
    honest(shop, head="", holes="")
    results = shop.run()[1]
    assert said(results, "Nothing identifies the plate"), results["cautions"]
    assert said(results, "No measurement uncertainty is stated"), results["cautions"]
    shop.write("job.ini", job(head="inspection_date = 2026-11-21\ndate = 2026-11-20\n").replace("temperature = 20 C", "temperature = 26 C"))
    results = shop.run()[1]
    assert said(results, "dated after the report"), results["cautions"]
    assert said(results, "without its uncertainty"), results["cautions"]
    assert said(results, "expansion coefficient is the program's default"), results["cautions"]


def case_12_uncertainties_of_zero(shop):
    honest(shop, holes="uncertainty_position = 0\nuncertainty_diameter = 0\n", rules="decision = guarded\n", head="plate_id = P\n")
    results = shop.run()[1]
    assert said(results, "stated as zero", "guards against nothing"), results["cautions"]


def case_12_no_inspection_date(shop):
    honest(shop, head="plate_id = P\n")
    shop.write("job.ini", job(head="plate_id = P\n").replace("measured.csv", "measured.csv @ARM") + "[instrument ARM]\ncalibration_due = 2026-01-01\n")
    results = shop.run()[1]
    assert said(results, "No inspection date is given"), results["cautions"]


def case_14_a_plate_that_is_a_plane(shop):
    """The smoothest surface through noise is a plane to the last digits, and has no narrowest zone to be found."""
    noise, step = random.Random(0), 1000 * (math.pi / 500) ** 0.5
    places = [(i * step, k * step) for i in range(-13, 14) for k in range(-13, 14)]
    rows = [(x, y, noise.gauss(0, 0.01)) for x, y in places]
    shop.write("survey.csv", "x,y,z\n" + "".join(f"{x:.3f},{y:.3f},{z:.6f}\n" for x, y, z in rows if math.hypot(x, y) <= 1000))
    shop.write("job.ini", "[plate]\noutline = disc\ndiameter = 2000\nthickness = 40\n[survey]\nfile = survey.csv\n"
               "uncertainty = 0.02\nflatness_limit = 0.08\n[rules]\ndecision = guarded\n")
    status, results, err = shop.run("flatness")
    assert status == 0 and results["flatness"]["uncertainty"]["low"] == 0, err


def case_15_each_hole_counts_once(shop):
    rows = [(n, x + (0.14 if i == 3 else 0.4 if i == 8 else 0), y, d) for i, (n, x, y, d) in enumerate(readings(HOLES))]
    honest(shop, measured(rows), holes="uncertainty_position = 0.05\nuncertainty_diameter = 0.002\n", rules="decision = guarded\n")
    position = shop.run()[1]["holes"]["position"]
    assert position["proven_in"] + position["proven_out"] + position["not_proven"] == 20, position
    assert position["proven_out"] == 1 and position["not_proven"] >= 1, position


def case_15_a_failure_that_is_also_not_proven(shop):
    """Undersize for certain, and perhaps oversize elsewhere: not_proven keeps its meaning, the items count it once."""
    size = "hole_nominal = 25.70\nhole_under = 0.10\nhole_over = 0.05\nhole_over_limit = 0.10\n"
    rows = [(n, x, y, 25.70) for n, x, y, _ in readings(HOLES)]
    name, x, y, _ = rows[7]
    rows += [(name, x, y, 25.50), (name, x, y, 25.798)]
    honest(shop, measured(rows), holes="uncertainty_position = 0.002\nuncertainty_diameter = 0.01\n",
           rules="decision = guarded\n" + size)
    diameter = shop.run()[1]["holes"]["diameter"]
    assert diameter["not_proven"] == 1 and diameter["proven_out"] == 1 and diameter["proven_in"] == 19, diameter
    assert diameter["items"] == {"judged": 20, "proven_in": 19, "proven_out": 1, "not_proven": 0}, diameter
    page = shop.report()[1]
    assert "19 proven in, 1 proven out, 0 not proven" in page
    with open(shop.at / "report" / "holes.csv", newline="") as f:
        proofs = [row["diameter_proof"] for row in csv.DictReader(f)]
    assert proofs.count("in") == 19 and proofs.count("out") == 1, proofs
