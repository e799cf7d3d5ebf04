"""Random hole jobs for holes_peer.py: what is set, and the files that say it."""
import itertools
import math

from holes_peer_judge import FACES


class Job:
    """Settings in mm as the job file says them, and rows as the measured list has them."""


def random_job(rng):
    j = Job()
    j.unit = rng.choice([1.0, 25.4])
    j.pitch = rng.uniform(20, 40)
    j.size = j.pitch * rng.uniform(0.72, 0.82)  # hole nominal
    j.rows, j.columns = int(rng.integers(3, 9)), int(rng.integers(3, 9))
    j.triangular = bool(rng.integers(2))
    j.centre = rng.uniform(-50, 50, 2)
    j.named = bool(rng.random() < 0.75)
    aligns = ["as-measured", "best-fit", "datum-points"] + (["two-holes"] if j.named else [])
    j.align = str(rng.choice(aligns))
    j.exit_view = str(rng.choice(["through", "turned-about-x", "turned-about-y"]))
    j.faces = int(rng.choice([0, 1, 2, 3], p=[0.35, 0.1, 0.4, 0.15]))  # entry, exit, both, mixed
    j.exit_align = str(rng.choice(["same", "best-fit"] + (["two-holes"] if j.named else [])))
    if j.faces != 2:
        j.exit_align = "same"
    j.decision = str(rng.choice(["simple", "guarded"]))
    j.coverage = str(rng.choice(["every-hole", "sample"]))
    j.material = str(rng.choice(["regardless", "maximum"]))
    j.ligament_face = str(rng.choice(["worst", "exit"]))
    j.warm = bool(rng.random() < 0.3)
    j.expansion_given = bool(rng.integers(2))
    j.temperature = float(rng.uniform(0, 45)) if j.warm else 20.0
    j.expansion = 16e-6 if j.warm and j.expansion_given else 11.5e-6
    j.compensated = j.warm and bool(rng.integers(2))
    pick = lambda value, chance=0.8: float(value) if rng.random() < chance else None
    j.position_limit = pick(rng.uniform(0.1, 0.5))
    j.under, j.over, j.over_limit = float(rng.uniform(0.05, 0.1)), float(rng.uniform(0.02, 0.06)), 0.25
    nominal_ligament = j.pitch - j.size
    j.minimum = pick(nominal_ligament * 0.5)
    j.standard = nominal_ligament - float(rng.uniform(0.05, 0.3)) if j.minimum else None
    j.drift_limit = pick(rng.uniform(0.05, 0.2), 0.5)
    j.edge_limit = pick(rng.uniform(3, 60), 0.4)
    j.other_limit = pick(rng.uniform(1, 20), 0.4)
    j.share = float(rng.choice([0.0, 0.04, 0.1]))
    j.u = {"position": 0.02, "per_metre": pick(0.05, 0.5), "temperature": pick(2.0, 0.5),
           "expansion": pick(0.3, 0.3), "diameter": 0.01, "ligament": 0.04} if j.decision == "guarded" else {}
    make_holes(j, rng)
    make_rows(j, rng)
    j.pattern_limit = pick(rng.uniform(0.1, 1.2), 0.3)
    j.inch_job = bool(rng.random() < 0.3)
    return j


def make_holes(j, rng):
    j.nominal = []  # name, x, y, kind, diameter, under, over
    step = math.sqrt(3) / 2 if j.triangular else 1.0
    for r, c in itertools.product(range(j.rows), range(j.columns)):
        x = (c + (0.5 * (r % 2) if j.triangular else 0)) * j.pitch + j.centre[0]
        y = r * step * j.pitch + j.centre[1]
        j.nominal.append([f"R{r + 1}C{c + 1}", round(x, 4), round(y, 4), "tube", None, None, None])
    if rng.random() < 0.4:
        for k in range(int(rng.integers(1, 4))):
            under, over = (0.1, 0.2) if rng.random() < 0.6 else (None, None)
            j.nominal.append([f"T{k + 1}", round(j.centre[0] - 2 * j.pitch, 4),
                              round(j.centre[1] + 1.7 * k * j.pitch, 4), "other", 12.0, under, over])
    order = rng.permutation(len(j.nominal))
    j.nominal = [j.nominal[i] for i in order]
    xs, ys = [h[1] for h in j.nominal], [h[2] for h in j.nominal]
    j.plate_centre = (float((min(xs) + max(xs)) / 2), float((min(ys) + max(ys)) / 2))
    j.disc = bool(rng.integers(2))
    w, h = max(xs) - min(xs), max(ys) - min(ys)
    j.width, j.height = float(w + 4 * j.pitch), float(h + 4 * j.pitch)
    j.diameter = float(math.hypot(w, h) + 4 * j.pitch)


def make_rows(j, rng):
    scale = 1.0 if not j.warm or j.compensated else 1 - j.expansion * (j.temperature - 20)
    moving = j.align != "as-measured"
    # without names best-fit begins as measured: every hole must be nearest to its own, or nearly
    small = not j.named and j.align == "best-fit"
    angle = rng.uniform(-3, 3) if moving and not small else rng.uniform(-2e-4, 2e-4)
    shift = rng.uniform(-300, 300, 2) if moving and not small else rng.uniform(-0.05, 0.05, 2)
    c, s = math.cos(angle), math.sin(angle)

    def measured_place(x, y, face):
        mx, my = c * x - s * y + shift[0], s * x + c * y + shift[1]
        if face == 1 and j.exit_view == "turned-about-x":
            my = -my
        if face == 1 and j.exit_view == "turned-about-y":
            mx = -mx
        return mx / scale, my / scale

    calm = rng.random() < 0.5  # a good plate
    noise = 0.012 if calm else 0.04
    j.rows_measured = []  # name, x, y, diameter, face, round, disposition
    tubes = [h for h in j.nominal if h[3] == "tube"]
    j.datum_holes = [tubes[0][0], tubes[-1][0]]
    keep_all = rng.random() < 0.5
    for name, x, y, kind, diameter, _, _ in j.nominal:
        is_datum = name in j.datum_holes
        if not keep_all and not is_datum and rng.random() < 0.1:
            continue
        faces = {0: [0], 1: [1], 2: [0, 1],
                 3: [0, 1] if is_datum or rng.random() < 0.5 else [int(rng.integers(2))]}[j.faces]
        plugged = j.named and rng.random() < 0.03
        far = 6.0 if rng.random() < 0.02 and j.named and not calm else 1.0
        for face in faces:
            rounds = [1] if rng.random() < 0.9 else [1, 2]
            for turn in rounds:
                for _ in range(1 if not j.named or rng.random() < 0.8 else int(rng.integers(2, 4))):
                    px, py = x + far * rng.normal(0, noise), y + far * rng.normal(0, noise)
                    if far > 1 and rng.random() < 0.3:
                        px += 0.4 * j.pitch
                    mx, my = measured_place(px, py, face)
                    d = (diameter if kind == "other" else j.size) + rng.normal(0, 0.75 * noise)
                    if rng.random() < (0.01 if calm else 0.03):
                        d += 0.2
                    j.rows_measured.append([name, mx, my, d / scale, face, turn,
                                            "plugged" if plugged and rng.random() < 0.7 else ""])
    for k in range(int(rng.integers(0, 3)) if rng.random() < 0.3 and not calm else 0):  # extra holes
        x, y = j.nominal[int(rng.integers(len(j.nominal)))][1:3]
        mx, my = measured_place(x + 0.55 * j.pitch, y + 0.1 * j.pitch, 0)
        if j.faces != 1:
            j.rows_measured.append([f"X{k}", mx, my, j.size / scale, 0, 1, ""])
    j.rows_measured = [j.rows_measured[i] for i in rng.permutation(len(j.rows_measured))]
    digits = 7
    for row in j.rows_measured:
        row[1], row[2], row[3] = (round(float(v) / j.unit, digits) for v in row[1:4])
    j.datum_points = []
    for k in range(int(rng.integers(2, 5))):
        x, y = rng.uniform(-400, 400, 2)
        mx, my = measured_place(x + rng.normal(0, 0.02), y + rng.normal(0, 0.02), 0)
        j.datum_points.append([f"P{k}"] + [round(float(v) / j.unit, digits) for v in (x, y, mx, my)])
    j.direct = []
    if rng.random() < 0.3:
        for a, b in itertools.combinations([h for h in tubes], 2):
            if math.hypot(a[1] - b[1], a[2] - b[2]) < 1.1 * j.pitch and rng.random() < 0.1:
                value = j.pitch - j.size + rng.normal(0, 0.05)
                face = int(rng.integers(2)) if j.faces == 2 else 0
                j.direct.append([b[0], a[0], round(float(value) / scale / j.unit, digits), face])


def write_job(j, folder):
    unit = "inch" if j.unit != 1.0 else "mm"
    with open(f"{folder}/nominal.csv", "w") as f:
        f.write("hole,x,y,kind,diameter,under,over\n")
        for name, x, y, kind, *size in j.nominal:
            cells = [f"{v / j.unit:.12g}" if v is not None else "" for v in (x, y, *size)]
            f.write(f"{name},{cells[0]},{cells[1]},{kind},{cells[2]},{cells[3]},{cells[4]}\n")
    with open(f"{folder}/measured.csv", "w") as f:
        f.write(("hole," if j.named else "") + "x,y,diameter,face,round,disposition\n")
        for name, x, y, d, face, turn, disposition in j.rows_measured:
            f.write((f"{name}," if j.named else "") +
                    f"{x!r},{y!r},{d!r},{FACES[face]},{turn},{disposition}\n")
    with open(f"{folder}/datum.csv", "w") as f:
        f.write("name,nominal_x,nominal_y,x,y\n")
        for row in j.datum_points:
            f.write(",".join(str(v) for v in row) + "\n")
    if j.direct:
        with open(f"{folder}/ligaments.csv", "w") as f:
            f.write("hole_a,hole_b,ligament,face\n")
            for a, b, value, face in j.direct:
                f.write(f"{a},{b},{value!r},{FACES[face]}\n")
    job_unit = 25.4 if j.inch_job else 1.0
    length = lambda value: repr(value / job_unit)
    lines = ["[job]", f"units = {'inch' if j.inch_job else 'mm'}", "[plate]",
             f"centre = {length(j.plate_centre[0])}, {length(j.plate_centre[1])}", "thickness = 40 mm"]
    lines += ["outline = disc", f"diameter = {length(j.diameter)}"] if j.disc else [
        "outline = rectangle", f"width = {length(j.width)}", f"height = {length(j.height)}"]
    lines += ["[holes]", "nominal = nominal.csv", "measured = measured.csv", f"length_unit = {unit}",
              f"pitch = {length(j.pitch)}", f"align = {j.align}", f"exit_view = {j.exit_view}",
              f"exit_align = {j.exit_align}", f"material_condition = {j.material}",
              f"coverage = {j.coverage}"]
    if j.align == "two-holes" or j.exit_align == "two-holes":
        lines.append("datum_holes = " + ", ".join(j.datum_holes))
    if j.align == "datum-points":
        lines.append("datum_points = datum.csv")
    if j.direct:
        lines.append("ligaments = ligaments.csv")
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
              f"ligament_face = {j.ligament_face}", f"hole_nominal = {length(j.size)}",
              f"hole_under = {length(j.under)}", f"hole_over = {length(j.over)}",
              f"hole_over_limit = {length(j.over_limit)}"]
    for key, value in [("ligament_standard", j.standard), ("ligament_minimum", j.minimum),
                       ("drift_limit", j.drift_limit)]:
        if value is not None:
            lines.append(f"{key} = {length(value)}")
    with open(f"{folder}/job.ini", "w") as f:
        f.write("\n".join(lines) + "\n")
