"""Setting up by a study of the wrong plate: numbers no shop has, and advice that is at odds with itself."""

import math

RADIUS = 600

JOB = """[plate]
outline = disc
diameter = 1200
thickness = 38
[survey]
file = survey.csv
[support]
kind = table
[foot]
force = 8 kN
outer_diameter = 160
inner_diameter = 90
[holddown]
gap_limit = 0.3
[holes]
nominal = holes.csv
tube_diameter = 38.1
pitch = 150
"""


def lists(shop, height):
    """A disc of 1200 mm, `height` higher in its middle, and 37 holes up to 450 mm from it."""
    grid = [(100 * i, 100 * j) for i in range(-6, 7) for j in range(-6, 7)]
    rows = [f"{x},{y},{height * (1 - (x * x + y * y) / RADIUS ** 2) + 0.004 * math.sin(7 * x + 11 * y):.4f}"
            for x, y in grid if math.hypot(x, y) <= RADIUS]
    shop.write("survey.csv", "x,y,z\n" + "\n".join(rows) + "\n")
    step = 75 * math.sqrt(3)
    holes = [(150 * c + 75 * (r % 2), r * step) for r in range(-4, 5) for c in range(-5, 5)]
    holes = [h for h in holes if math.hypot(*h) < 460]
    shop.write("holes.csv", "hole,x,y\n" + "\n".join(f"H{i},{x:.3f},{y:.3f}" for i, (x, y) in enumerate(holes)) + "\n")


def study(shop, old, new):
    assert JOB.count(old) == 1, old
    shop.write("set.ini", JOB.replace(old, new))
    return shop.run("holddown", "set.ini")


def case_numbers_that_no_shop_has(shop):
    """Bare they are refused, the unit asked for; with their unit they are taken, and doubted beside the headline."""
    lists(shop, 0.2)
    silly = [("[foot]", "force", 10, "force = 8 kN", "force = 8", "force = 8 N"),
             ("[plate]", "thickness", 4, "thickness = 38", "thickness = 965.2", "thickness = 38 in"),
             ("[holddown]", "gap_limit", 14, "gap_limit = 0.3", "gap_limit = 300", "gap_limit = 300 mm")]
    for section, key, line, good, bare, with_unit in silly:
        status, results, said = study(shop, good, bare)
        assert status == 2 and results is None, (bare, status)
        assert said.startswith(f"set.ini:{line}: {key} has no unit here") and "with its unit" in said, said
        status, results, said = study(shop, good, with_unit)
        assert status in (0, 1) and results, (with_unit, status, said)
        assert results["cautions"][0].startswith(f"{section} {key} is unusual"), results["cautions"]
    _, page, _ = shop.report("set.ini")
    assert -1 < page.find("[holddown] gap_limit is unusual") < page.find("<h2"), "not beside the headline"


def case_a_plate_smaller_than_its_pattern(shop):
    """Whether the survey or the pattern does not fit, the plate's size is asked for, with unit or without."""
    lists(shop, 0.2)
    for size in ("800", "800 mm"):
        status, results, said = study(shop, "diameter = 1200", f"diameter = {size}")
        assert status == 2 and results is None, (size, status)
        assert said.startswith("set.ini:3: ") and "nominal holes lie beyond the plate" in said and "diameter" in said, said
