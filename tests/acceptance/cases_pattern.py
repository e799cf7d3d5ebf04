"""match = pattern: readings without names in any frame, even of the plate turned over, come to what named ones come to."""

import math

from shop import grid, job, measured, nominal, readings


def case_pattern_in_any_frame(shop):
    holes = grid()
    for gone in ("R4C5", "R1C2"):  # no symmetry is left
        holes.pop(gone)
    rows = readings(holes)
    name, x, y, d = rows[6]
    rows[6] = name, x + 0.21, y, d  # outside its limit
    shop.write("nominal.csv", nominal(holes))
    shop.write("measured.csv", measured(rows))
    shop.write("job.ini", job(holes="align = best-fit\n"))
    status, named, said = shop.run()
    assert status == 1, said
    shop.write("job.ini", job(holes="align = best-fit\nmatch = pattern\n"))
    for angle in (0, 37, 90, 180, 251.3):
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        for over in (1, -1):
            shop.write("measured.csv", "x,y,diameter\n" + "".join(
                f"{over * (c * x - s * y) + 712.3:.5f},{s * x + c * y - 93.1:.5f},{d}\n" for _, x, y, d in rows))
            status, found, said = shop.run()
            assert status == 1, (angle, over, said)
            ours, theirs = found["holes"]["position"], named["holes"]["position"]
            assert ours["largest_hole"] == theirs["largest_hole"] == rows[6][0], (angle, over)
            assert abs(ours["largest"] - theirs["largest"]) < 3e-5 and abs(ours["mean"] - theirs["mean"]) < 1e-5, (angle, over, ours)
            assert found["holes"]["diameter"]["smallest"] == named["holes"]["diameter"]["smallest"]
