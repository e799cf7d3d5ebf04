"""Plans of clamps, tried from outside with the program itself.

    holddown_plans.py PROGRAM random [PLATES [FIRST]]    random warped plates: the clamps found are given back
                                                to the program as clamps of the job, and must hold
    holddown_plans.py PROGRAM surveys [SURVEYS]          two plates, each surveyed again and again with fresh
                                                noise: how well the plans of each agree

Exit status 1 when a plan does not hold, or when fewer than nine of ten surveys of the plate that takes the usual
forces agree in the number of clamps and within 15 % in force.
"""
import json
import math
import pathlib
import random
import subprocess
import sys
import tempfile

LEFT = "plate.ini"
PITCH = 100  # mm, of the holes: few, so that a plate takes a second or two


def write_survey(folder, size, points, shape, noise, rng):
    """Heights on a square raster, every one with its own noise."""
    n = max(2, round(math.sqrt(points)))
    rows = ["x,y,z"]
    for i in range(n):
        for j in range(n):
            x, y = size[0] * ((i + 0.5) / n - 0.5), size[1] * ((j + 0.5) / n - 0.5)
            x *= n / (n - 0.9)
            y *= n / (n - 0.9)
            if shape["disc"] and math.hypot(x, y) > size[0] / 2:
                continue
            rows.append(f"{x:.3f},{y:.3f},{height(shape, x, y) + rng.gauss(0, noise):.5f}")
    (folder / "survey.csv").write_text("\n".join(rows) + "\n")
    return len(rows) - 1


def height(shape, x, y):
    u, v = x / shape["half"], y / shape["half"]
    return (shape["bow_x"] * (1 - u * u) + shape["bow_y"] * (1 - v * v) + shape["twist"] * u * v
            + shape["wave"] * math.sin(shape["k"] * u + shape["phase"]))


def write_holes(folder, size, disc, pitch, lane, rng):
    """A triangular field, a lane of `lane` left free along x through the middle."""
    rows, n = ["hole,x,y"], 0
    step = pitch * math.sqrt(3) / 2
    for r in range(-int(size[1] / step), int(size[1] / step) + 1):
        for c in range(-int(size[0] / pitch) - 1, int(size[0] / pitch) + 2):
            x, y = (c + 0.5 * (r % 2)) * pitch, r * step
            inside = math.hypot(x, y) < size[0] / 2 - 0.9 * pitch if disc else \
                abs(x) < size[0] / 2 - 0.8 * pitch and abs(y) < size[1] / 2 - 0.8 * pitch
            if inside and abs(y) > lane / 2:
                n += 1
                rows.append(f"H{n},{x:.3f},{y:.3f}")
    (folder / "holes.csv").write_text("\n".join(rows) + "\n")
    return n


def job_of(size, disc, thickness, foot, gap, limit, pad, clamps=()):
    outline = f"outline = disc\ndiameter = {size[0]}" if disc else \
        f"outline = rectangle\nwidth = {size[0]}\nheight = {size[1]}"
    text = f"""[plate]
{outline}
thickness = {thickness}
thickness_variation = 0
[survey]
file = survey.csv
[support]
kind = table
seat = rest
[foot]
force = {foot} N
outer_diameter = 160
inner_diameter = 90
[holddown]
gap_limit = {gap}
clamp_force_limit = {limit} N
clamp_pad = {pad}
clamp_over_holes = if-needed
[holes]
nominal = holes.csv
tube_diameter = 38.1
pitch = {PITCH}
"""
    for k, c in enumerate(clamps):
        text += f"[clamp C{k + 1}]\nx = {c['x']:.12g}\ny = {c['y']:.12g}\nforce = {c['force']:.12g} N\n"
    return text


def run(program, folder, text):
    (folder / LEFT).write_text(text)
    made = subprocess.run([program, "holddown", "-q", "--threads", "1", LEFT], cwd=folder,
                          capture_output=True, text=True)
    if made.returncode > 1:
        raise SystemExit(f"exit {made.returncode}: {made.stderr}\n{text}")
    return json.loads((folder / "plate-report" / "results.json").read_text())["holddown"]


def random_plate(rng):
    disc = rng.random() < 0.6
    width = rng.uniform(1200, 2600)
    size = (width, width) if disc else (width, width * rng.uniform(0.6, 1))
    bow = rng.uniform(0.3, 2.5) * rng.choice([1, 1, -1])
    shape = {"disc": disc, "half": size[0] / 2, "bow_x": bow * rng.uniform(0.3, 1),
             "bow_y": bow * rng.uniform(0.3, 1), "twist": rng.uniform(-0.8, 0.8),
             "wave": rng.uniform(0, 0.3), "k": rng.uniform(3, 7), "phase": rng.uniform(0, 6)}
    return size, shape


def try_random(program, plates, first):
    found = failed = ready = none = 0
    most = counts = 0
    for seed in range(first, first + plates):
        rng = random.Random(seed)
        size, shape = random_plate(rng)
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name)
            write_survey(folder, size, 200, shape, 0.03, rng)
            write_holes(folder, size, shape["disc"], PITCH, rng.choice([0, 0, 2.2 * PITCH]), rng)
            setting = (size, shape["disc"], rng.choice([16, 25, 25, 38, 50]), rng.choice([1000, 3000, 8000]),
                       rng.choice([0.2, 0.3, 0.5]), rng.choice([8000, 20000, 60000]), rng.choice([60, 90]))
            plan = run(program, folder, job_of(*setting))
            if plan["ready"]:
                ready += 1
                continue
            if not plan["plan_found"]:
                none += 1
                continue
            found += 1
            if found % 25 == 0:
                print(f"plate {seed}: {found} plans so far, {failed} failed", file=sys.stderr, flush=True)
            given = run(program, folder, job_of(*setting, clamps=plan["plan"]))
            off = abs(given["plan_worst_gap"] - plan["plan_worst_gap"])
            most = max(most, off)
            counts += len(plan["plan"])
            held = given["ready"] and all(s["verdict"] != "does not conform" for s in given["setups"])
            if not held or off > 1e-6:
                failed += 1
                print(f"plate {seed}: {len(plan['plan'])} clamps, worst gap {plan['plan_worst_gap']:.6f}, "
                      f"given back {given['plan_worst_gap']:.6f}, ready {given['ready']}")
    print(f"{plates} plates: {ready} need no clamps, for {none} none were found, {found} have a plan "
          f"of {counts / max(found, 1):.1f} clamps on average; given back, {found - failed} of {found} hold, "
          f"worst gaps differ by at most {most:.1e} mm")
    return failed == 0 and found > 0


# A dome of 2 m, 25 mm thick, that takes as much force as clamps are usually set to; and one so gentle that noise is a
# good part of what the clamp has to close: its plans are told, and need not agree
SURVEYED = {"high": (1.5, 0.1), "gentle": (0.8, 0.25)}
MUST_AGREE = "high"


def try_surveys(program, surveys):
    agree = {name: survey_again(program, surveys, name, *form) for name, form in SURVEYED.items()}
    return agree[MUST_AGREE]


def survey_again(program, surveys, name, bow, twist):
    """One plate, fresh noise: how many plans have the usual number of clamps, within 15 % of their median force."""
    size, disc = (2000, 2000), True
    shape = {"disc": True, "half": 1000, "bow_x": bow, "bow_y": bow, "twist": twist, "wave": 0.1, "k": 4,
             "phase": 1}
    plans = []
    for seed in range(surveys):
        rng = random.Random(7000 + seed)
        with tempfile.TemporaryDirectory() as place:
            folder = pathlib.Path(place)
            write_survey(folder, size, 320, shape, 0.04, rng)
            write_holes(folder, size, disc, PITCH, 2.2 * PITCH, rng)
            plan = run(program, folder, job_of(size, disc, 25, 3000, 0.3, 30000, 90))
            plans.append([c["force"] for c in plan["plan"]])
            print(f"survey {seed}: {len(plans[-1])} clamps, {sum(plans[-1]) / 1000:.2f} kN in all", file=sys.stderr,
                  flush=True)
    numbers = sorted(len(p) for p in plans)
    usual = max(set(numbers), key=numbers.count)
    sums = sorted(sum(p) for p in plans if len(p) == usual)
    middle = sums[len(sums) // 2]
    agree = sum(abs(s - middle) <= 0.15 * middle for s in sums)
    print(f"{surveys} surveys of the {name} dome: numbers of clamps {numbers}; {len(sums)} have {usual}, with "
          f"{sums[0] / 1000:.2f} to {sums[-1] / 1000:.2f} kN in all; {agree} agree in number and within 15 % of "
          f"{middle / 1000:.2f} kN", flush=True)
    return 10 * agree >= 9 * surveys


def main():
    program, what = str(pathlib.Path(sys.argv[1]).resolve()), sys.argv[2]
    numbers = [int(a) for a in sys.argv[3:]]
    if what == "random":
        good = try_random(program, numbers[0] if numbers else 200, numbers[1] if len(numbers) > 1 else 1)
    else:
        good = try_surveys(program, numbers[0] if numbers else 30)
    sys.exit(0 if good else 1)


main()
