"""The files of a random hole job, for holes_peer.py: in different words, delimiters, units and with columns that
mean nothing, as exports differ."""
from holes_peer_judge import FACES

FOREIGN = {"hole": "Bohrung", "x": "X-Ist", "y": "Y-Ist", "diameter": "D mess", "face": "Seite", "round": "Runde",
           "disposition": "Vermerk"}
OWN_FACES = ["Oben", "Unten"]


def header_words(j, columns):
    style = j.style["header"]
    if style == "mapped":
        return [FOREIGN[c] for c in columns]
    if style == "units":
        unit = "in" if j.unit != 1.0 else "mm"
        forms = {"x": f"x_{unit}", "y": f"y ({unit})", "diameter": f"D [{unit}]", "hole": "Hole"}
        return [forms.get(c, c) for c in columns]
    return columns


def number_words(j, value):
    text = repr(float(value))
    return text.replace(".", ",") if j.style["decimal comma"] else text


def write_measured(j, path):
    style = j.style
    columns = (["hole"] if j.named else []) + ["x", "y", "diameter", "face", "round", "disposition"]
    faces = OWN_FACES if style["faces"] == "own words" else FACES
    lines = ["# exported"] if style["comment above"] else []
    lines.append(style["delimiter"].join(header_words(j, columns) + (["force"] if style["spare column"] else [])))
    for i, (name, x, y, d, face, turn, disposition) in enumerate(j.rows_measured):
        cells = ([name] if j.named else []) + [number_words(j, v) for v in (x, y, d)]
        cells += [faces[face], str(turn), disposition]
        cells += [number_words(j, 0.25 + i / 64)] if style["spare column"] else []
        lines.append(style["delimiter"].join(cells))
    end = "\r\n" if style["CRLF"] else "\n"
    with open(path, "w", encoding="utf-8-sig" if style["BOM"] else "utf-8", newline="") as f:
        f.write(end.join(lines) + end)


def write_tables(j, folder):
    write_measured(j, f"{folder}/measured.csv")
    with open(f"{folder}/nominal.csv", "w") as f:
        f.write("hole,x,y,kind,diameter,under,over\n")
        for name, x, y, kind, *size in j.nominal:
            cells = [f"{v / j.unit:.12g}" if v is not None else "" for v in (x, y, *size)]
            f.write(f"{name},{cells[0]},{cells[1]},{kind},{cells[2]},{cells[3]},{cells[4]}\n")
    if j.align == "datum-points":
        with open(f"{folder}/datum.csv", "w") as f:
            f.write("name,nominal_x,nominal_y,x,y\n")
            for row in j.datum_points:
                f.write(",".join(str(v) for v in row) + "\n")
    if j.direct:
        with open(f"{folder}/ligaments.csv", "w") as f:
            f.write("hole_a,hole_b,ligament,face\n")
            for a, b, value, face in j.direct:
                f.write(f"{a},{b},{value!r},{FACES[face]}\n")


def write_job(j, folder):
    write_tables(j, folder)
    unit = "inch" if j.unit != 1.0 else "mm"
    job_unit = 25.4 if j.inch_job else 1.0
    length = lambda value: repr(float(value / job_unit))
    lines = ["[job]", f"units = {'inch' if j.inch_job else 'mm'}", "[plate]",
             f"centre = {length(j.plate_centre[0])}, {length(j.plate_centre[1])}", "thickness = 40 mm"]
    lines += ["outline = disc", f"diameter = {length(j.diameter)}"] if j.disc else [
        "outline = rectangle", f"width = {length(j.width)}", f"height = {length(j.height)}"]
    lines += ["[holes]", "nominal = nominal.csv", "measured = measured.csv", f"length_unit = {unit}",
              f"pitch = {length(j.pitch)}", f"align = {j.align}", f"exit_view = {j.exit_view}",
              f"exit_align = {j.exit_align}", f"material_condition = {j.material}",
              f"coverage = {j.coverage}"]
    if j.style["header"] == "mapped":
        used = ["x", "y", "diameter", "face", "round", "disposition"] + (["hole"] if j.named else [])
        lines.append("measured_columns = " + ", ".join(f'"{FOREIGN[c]}":{c}' for c in used))
    if j.style["faces"] == "own words":
        lines.append(f"face_names = {OWN_FACES[0]}:entry, {OWN_FACES[1]}:exit")
    if j.align == "two-holes" or j.exit_align == "two-holes":
        lines.append("datum_holes = " + ", ".join(j.datum_holes))
    if j.align == "datum-points":
        lines.append("datum_points = datum.csv")
    if j.direct:
        lines.append("ligaments = ligaments.csv")
    if j.tube_holes is not None:
        lines.append(f"tube_holes = {j.tube_holes}")
    if j.tube:
        lines.append(f"tube_diameter = {j.tube[0]!r} in")
    if j.warm:
        lines += [f"temperature = {j.temperature!r} C", f"compensated = {'yes' if j.compensated else 'no'}"]
        if j.expansion_given:
            lines.append(f"expansion = {j.expansion!r}")
    for key, value in [("position_limit", j.position_limit), ("pattern_limit", j.pattern_limit),
                       ("edge_ligament_minimum", j.edge_limit),
                       ("other_ligament_minimum", j.other_limit)] + [
                           (f"uncertainty_{k}", v) for k, v in j.u.items()]:
        if value is not None:
            lines.append(f"{key} = {value!r} C" if key == "uncertainty_temperature" else
                         f"{key} = {value!r}" if key == "uncertainty_expansion" else
                         f"{key} = {length(value)}")
    lines += ["[rules]", f"decision = {j.decision}", f"remainder_share = {100 * j.share:g} %",
              f"ligament_face = {j.ligament_face}"]
    limits = [("hole_nominal", j.size), ("hole_under", j.under), ("hole_over", j.over),
              ("hole_over_limit", j.over_limit), ("ligament_standard", j.standard), ("ligament_minimum", j.minimum)]
    for key, value in ([] if j.tube else limits) + [("drift_limit", j.drift_limit)]:
        if value is not None:
            lines.append(f"{key} = {length(value)}")
    with open(f"{folder}/job.ini", "w") as f:
        f.write("\n".join(lines) + "\n")
