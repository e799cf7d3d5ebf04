"""How files are read."""

from shop import grid, job, measured, nominal, off, readings, said

HOLES = grid()
FACES = "face_names = Eintritt:entry, Austritt:exit\n"


def honest(shop, holes="", rules="", text=None):
    shop.write("nominal.csv", nominal(HOLES))
    shop.write("measured.csv", text or measured(readings(HOLES)))
    shop.write("job.ini", job(holes=holes, rules=rules))


def reading_of(results, role):
    return next(i["reading"] for i in results["inputs"] if i["role"] == role)


def faces_table(column, entry, exit, exit_off=0.3):
    text = f"hole,x,y,diameter,{column}\n"
    for n, x, y, d in readings(HOLES):
        text += f"{n},{x:.4f},{y:.4f},{d},{entry}\n{n},{x + exit_off:.4f},{y:.4f},{d},{exit}\n"
    return text


def case_1_how_it_was_read_is_said(shop):
    text = measured(readings(HOLES), "hole,x_mm,y_mm,diameter").replace("diameter\n", "diameter,operator\n")
    honest(shop, text="# by arm\n" + "\n".join(line + ("" if i == 0 else ",M") for i, line in enumerate(text.split("\n")) if line))
    status, results, _ = shop.run()
    reading = reading_of(results, "measured")
    assert status == 0 and results["verdict"] == "conforms", results["verdict"]
    assert reading["ignored"] == ["operator"], reading
    assert [c["column"] for c in reading["columns"]] == ["hole", "x", "y", "diameter"]
    assert reading["columns"][1]["unit_from"] == "header" and reading["columns"][3]["unit_from"] == "not said anywhere"
    assert reading["skipped"]["comments"] == 1 and reading["matched_by_name"] == len(HOLES)
    assert reading["frame"] == "as-measured"
    status, page, _ = shop.report()
    assert "How each file was read" in page and "operator" in page


def case_1_a_face_column_of_another_name(shop):
    honest(shop, FACES, text=faces_table("Seite", "Eintritt", "Austritt"))
    status, results, err = shop.run()
    assert status == 2 and results is None and "column 'Seite' holds faces" in err, err
    assert "measured_columns = Seite:face" in err
    shop.write("job.ini", job(holes=FACES + "measured_columns = Seite:face\n"))
    status, results, err = shop.run()
    assert status == 1 and results["verdict"] == "does not conform", err


def case_1_face_names_without_a_face_column(shop):
    honest(shop, FACES)
    status, results, err = shop.run()
    assert said(results, "face_names is given", "no column face"), results["cautions"]


def case_1_repeats_that_differ_in_an_ignored_word(shop):
    honest(shop, text=faces_table("Lage", "vorn", "hinten"))
    status, results, err = shop.run()
    assert status == 2 and "differ in column 'Lage'" in err and "ignore_columns = Lage" in err, err
    shop.write("job.ini", job(holes="ignore_columns = Lage\n"))
    status, results, err = shop.run()
    assert status in (0, 1) and results, err


def case_1_rounds_of_another_name(shop):
    honest(shop, text=faces_table("Runde", "1", "2", 0.2))
    status, results, err = shop.run()
    assert results["verdict"] == "not proven" and said(results, "column 'Runde'", "averaged"), (err, results and results["cautions"])
    shop.write("job.ini", job(holes="measured_columns = Runde:round\n"))
    assert shop.run()[1]["verdict"] == "does not conform"


def twice(bad, again, off_by, readings_more=1):
    """The hole `bad` lies off_by out of place; read again and again, the other times elsewhere."""
    rows = []
    for n, x, y, d in readings(HOLES):
        rows.append((n, x + (off_by if n == bad else 0), y, d))
        rows += [(n, x + again, y, d)] * (readings_more if n == bad else 0)
    return measured(rows)


def case_1_a_hole_out_of_place_averaged_into_its_place(shop):
    for limits, spread in (("", 0.4), ("uncertainty_position = 0.02\nuncertainty_diameter = 0.01\n", 0.4)):
        honest(shop, limits, text=twice("R2C3", 0.0, spread, 3))
        results = shop.run()[1]
        assert results["holes"]["position"]["verdict"] == "not proven", results["holes"]["position"]
        assert said(results, "1 hole (R2C3)", "farther apart than their uncertainty explains"), results["cautions"]
    honest(shop, text=twice("R2C3", 0.0, 0.004))  # repeats as they are
    assert shop.run()[1]["verdict"] == "conforms"
    honest(shop, "uncertainty_position = 0.002\n", text=twice("R2C3", 0.0, 0.02))  # unexplained, and inside all the same
    assert shop.run()[1]["verdict"] == "conforms"


def case_1_nominal_columns_judged(shop):
    text = "hole,x,y,x act,y act,diameter\n"
    for n, x, y, d in readings(HOLES):
        text += f"{n},{HOLES[n][0]},{HOLES[n][1]},{x + 0.5:.4f},{y:.4f},{d}\n"
    honest(shop, text=text)
    status, results, err = shop.run()
    assert results["verdict"] == "not proven", (results["verdict"], err)
    assert said(results, "20 of 20 measured centres are the nominal ones"), results["cautions"]
    shop.write("job.ini", job(holes="measured_columns = x act:x, y act:y\n"))
    assert shop.run()[1]["verdict"] == "does not conform"


def case_1_a_third_of_the_centres_made_up(shop):
    rows = [(n, *(HOLES[n] if i % 3 == 0 else (x, y)), d) for i, (n, x, y, d) in enumerate(readings(HOLES))]
    honest(shop, text=measured(rows))
    results = shop.run()[1]
    assert results["verdict"] == "not proven" and said(results, "to the last digit"), results["cautions"]


def case_2_holes_called_with_a_hash(shop):
    holes = {("#" + n if i < 5 else n): xy for i, (n, xy) in enumerate(HOLES.items())}
    shop.write("nominal.csv", nominal({n: xy for n, xy in holes.items()}).replace("#R1C1", '"#R1C1"').replace(
        "#R1C2", '"#R1C2"').replace("#R1C3", '"#R1C3"').replace("#R1C4", '"#R1C4"').replace("#R1C5", '"#R1C5"'))
    shop.write("measured.csv", measured(readings(holes)))
    shop.write("job.ini", job())
    status, results, err = shop.run()
    assert results["verdict"] == "conforms" and results["basis"].startswith("20 of 20"), (results["basis"], err)


def case_2_a_reading_commented_out(shop):
    rows = readings(HOLES)
    text = measured(rows).replace("R2C3,", "#R2C3,") + measured(rows[7:8]).split("\n")[1] + "\n"
    honest(shop, text=text)
    results = shop.run()[1]
    assert said(results, "R2C3", "begins with #"), results["cautions"]
    assert reading_of(results, "measured")["skipped"]["comments"] == 1


def case_2_a_nominal_hole_commented_out(shop):
    honest(shop, text=measured([r for r in readings(HOLES) if r[0] != "R4C5"]))
    shop.write("nominal.csv", nominal(HOLES).replace("R4C5,", "#R4C5,"))
    results = shop.run()[1]
    assert said(results, "R4C5", "nominal hole list"), results["cautions"]


def case_3_an_export_in_other_words(shop):
    text = "Messprotokoll Nr 7\nDatum;2026-11-20\n\nBohrung;X-Ist;Y-Ist;D mess;Seite\n;mm;mm;mm;\n"
    for n, x, y, d in readings(HOLES):
        text += f"{n};{x:.4f};{y:.4f};{d:.4f};A\n".replace(".", ",")
    text += "Mittelwert;;;25,70;\nStd. Dev.;;;0,02;\nStdDev;;;0,02;\n"
    honest(shop, "face_names = A:entry\nmeasured_columns = Bohrung:hole, X-Ist:x, Y-Ist:y, \"D mess\":diameter, Seite:face\n",
           text=text)
    status, results, err = shop.run()
    assert status == 0 and results["verdict"] == "conforms", err
    skipped = reading_of(results, "measured")["skipped"]
    assert (skipped["preamble"], skipped["unit_rows"], skipped["totals"]) == (2, 1, 3), skipped
    assert reading_of(results, "measured")["columns"][1] == {
        "column": "x", "header": "X-Ist", "mapped": True, "unit": "mm", "unit_from": "row of units"}


def case_3_units_in_the_survey_and_the_nominal_list(shop):
    honest(shop)
    shop.write("nominal.csv", "Pos,Xsoll,Ysoll\n" + nominal(HOLES).split("\n", 1)[1])
    points = [(-150 + 50 * i, -150 + 50 * k) for i in range(7) for k in range(7)]
    shop.write("survey.csv", "a,b,c\n" + "".join(f"{x},{y},{0.001 * ((x * y) % 7)}\n" for x, y in points))
    shop.write("job.ini", job("[survey]\nfile = survey.csv\ncolumns = a:x, b:y, c:z\nuncertainty = 0.01\nflatness_limit = 1\n",
                              "nominal_columns = Pos:hole, Xsoll:x, Ysoll:y\n"))
    status, results, err = shop.run()
    assert status == 0 and results["verdict"] == "conforms", err


def case_3_every_problem_at_once(shop):
    lines = measured(readings(HOLES)).strip().split("\n")
    lines[3] = "R1C3,abc,0,25.7"
    lines[6] = "R2C1,1,,25.7"
    lines[9] = "R2C4,1,2,-25.7"
    lines[12] = "R3C2,1"
    honest(shop, text="\n".join(lines) + "\n")
    status, results, err = shop.run()
    assert status == 2 and results is None
    for line in (4, 7, 13):
        assert f"measured.csv:{line}:" in err, err


def case_3_several_exports_in_one_file(shop):
    rows = readings(HOLES)
    honest(shop, text=measured(rows[:9]) + measured(rows[9:]))
    status, results, err = shop.run()
    assert status == 0 and reading_of(results, "measured")["skipped"]["repeated_headers"] == 1, err
    honest(shop, text=measured(rows[:9]) + "hole,y,x,diameter\n" + measured(rows[9:]).split("\n", 1)[1])
    status, results, err = shop.run()
    assert status == 2 and "another header" in err, err


def case_3_names_that_nearly_match(shop):
    for rename, why in ((str.lower, "capital letters"), (lambda n: n.replace("C", "C0"), "zeros"),
                        (lambda n: n.replace("R", "R\u00a0"), "look alike")):
        honest(shop, text=measured([(rename(n), x, y, d) for n, x, y, d in readings(HOLES)]))
        status, results, err = shop.run()
        assert status == 2 and results is None and why in err and err.count("beside") == 3, err


def case_3_a_unit_above_the_header(shop):
    honest(shop, text="units: inch\n" + measured(readings(HOLES)))
    status, results, err = shop.run()
    assert status == 2 and "names the unit in" in err, err
