"""The jobs that more than one benchmark runs."""

PITCH = 32.0  # of the holes, mm; those of ACCEPTANCE lie as far apart

DISC = """[job]
title = bench
date = 2026-11-20
[plate]
outline = disc
diameter = 3200
thickness = 38
[survey]
file = survey.csv
"""

FLATNESS = DISC + """uncertainty = 0.02
flatness_limit = 9
area_threshold = 0.5
straightedge = 1000, 2000
straightedge_limit = 6, 9
"""

HOLDDOWN = DISC + """uncertainty = 0.04
laid = on-supports
[support]
kind = table
[foot]
force = 6000
outer_diameter = 160
inner_diameter = 90
[holddown]
gap_limit = 0.3
force_cap = 200000
clamp_force_limit = 20000
clamp_pad = 80
[holes]
nominal = nominal.csv
tube_diameter = 19.05
pitch = {pitch}
"""

ACCEPTANCE = """[job]
date = 2026-11-20
[plate]
outline = rectangle
width = {extent:.3f} mm
height = {extent:.3f} mm
thickness = 40
[holes]
nominal = nominal.csv
measured = {measured}
tube_diameter = 25.4
pitch = 32
align = best-fit
position_limit = 0.4
[rules]
set = tema-style
ligament_minimum = 3.048
"""


def acceptance(extent, measured="measured.csv"):
    """Holes of a square plate against their drawing; extent: of its side, mm"""
    return ACCEPTANCE.format(extent=extent, measured=measured)
