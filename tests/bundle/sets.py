"""Invented bundles, written as set files and lists, and run through the program."""
import json
import math
import random
import subprocess

FACE = ("entry", "exit")


class Plate:
    def __init__(self, name, station, thickness, play=0.0, angle_deg=0.0, shift=(0.0, 0.0), role="baffle"):
        self.name, self.station, self.thickness, self.role = name, station, thickness, role
        self.play, self.angle_deg, self.shift = play, angle_deg, shift
        self.holes = {}  # tube: [(x, y, diameter) of the front edge, of the rear edge], bundle frame

    @property
    def plays(self):
        return {"x": self.shift[0], "y": self.shift[1], "radius": self.play, "angle": math.radians(self.angle_deg)}


class Bundle:
    def __init__(self, diameter, over, pitch, plates):
        self.diameter, self.over, self.pitch, self.plates = diameter, over, pitch, plates
        self.tubes = {}  # name: (x, y)
        self.keys, self.tube_keys = {}, {}

    def discs(self, tube):
        """[(plate index, disc)] in order."""
        return [(p, (plate.station + e * plate.thickness, *hole[:2], hole[2] / 2))
                for p, plate in enumerate(self.plates) if tube in plate.holes
                for e, hole in enumerate(plate.holes[tube])]

    def write(self, folder, nominal=True):
        """As set.ini and lists in `folder`, every plate seen from the front."""
        folder.mkdir(parents=True, exist_ok=True)
        lines = ["[bundle]"] + [f"{k} = {v}" for k, v in self.keys.items()]
        lines += ["[tube]", f"diameter = {self.diameter!r}", f"diameter_over = {self.over!r}", "places = tubes.csv"]
        lines += [f"{k} = {v}" for k, v in self.tube_keys.items()]
        (folder / "tubes.csv").write_text("hole,x,y\n" + "".join(f"{n},{x!r},{y!r}\n" for n, (x, y) in self.tubes.items()))
        for plate in self.plates:
            lines += [f"[plate {plate.name}]", f"role = {plate.role}", f"station = {plate.station!r}", "station_of = front",
                      f"thickness = {plate.thickness!r}", f"measured = {plate.name}.csv",
                      f"play = {plate.play!r}", f"play_angle = {plate.angle_deg!r} deg",
                      f"shift = {plate.shift[0]!r}, {plate.shift[1]!r}"]
            rows = ["hole,x,y,diameter,face"]
            for tube, edges in plate.holes.items():
                for face, (x, y, d) in zip(FACE, edges):
                    rows.append(f"{tube},{x - plate.shift[0]!r},{y - plate.shift[1]!r},{d!r},{face}")
            (folder / f"{plate.name}.csv").write_text("\n".join(rows) + "\n")
            if nominal:
                lines.append(f"nominal = {plate.name}_nominal.csv")
                (folder / f"{plate.name}_nominal.csv").write_text("hole,x,y\n" + "".join(
                    f"{t},{self.tubes[t][0] - plate.shift[0]!r},{self.tubes[t][1] - plate.shift[1]!r}\n" for t in plate.holes))
        (folder / "set.ini").write_text("\n".join(lines) + "\n")
        return folder / "set.ini"


def draw(seed, tubes=7, plates=5, scatter=0.08, shift=0.4, turn_deg=0.05, play=0.0, play_deg=0.0, windows=True):
    """A bundle whose plates were set out with errors, holes with errors of their own."""
    g = random.Random(seed)
    pitch, diameter = 32.0, 25.4
    side = math.ceil(math.sqrt(tubes))
    b = Bundle(diameter, 0.15, pitch, [])
    for k in range(tubes):
        b.tubes[f"T{k + 1}"] = ((k % side - side / 2) * pitch, (k // side - side / 2) * pitch)
    station = g.uniform(-50, 50)
    for p in range(plates):
        end = p in (0, plates - 1)
        plate = Plate(f"P{p}", round(station, 3), 40.0 if end else 12.0, 0.0 if end else play, 0.0 if end else play_deg,
                      (0.0, 0.0) if end else (round(g.uniform(-9, 9), 2), round(g.uniform(-9, 9), 2)),
                      "front tube plate" if p == 0 else "rear tube plate" if end else "baffle")
        station += g.uniform(250, 500)
        dx, dy, t = (0, 0, 0) if end else (g.gauss(0, shift), g.gauss(0, shift), math.radians(g.gauss(0, turn_deg)))
        for n, (x, y) in b.tubes.items():
            if windows and not end and g.random() < 0.12:
                continue
            ux, uy = x - plate.shift[0] + g.gauss(0, scatter), y - plate.shift[1] + g.gauss(0, scatter)
            cx = math.cos(t) * ux - math.sin(t) * uy + plate.shift[0] + dx
            cy = math.sin(t) * ux + math.cos(t) * uy + plate.shift[1] + dy
            size = diameter + 0.4 + g.gauss(0, 0.03)
            plate.holes[n] = [(round(cx + g.gauss(0, 0.01), 6), round(cy + g.gauss(0, 0.01), 6), round(size + g.gauss(0, 0.005), 6))
                              for _ in FACE]
        b.plates.append(plate)
    return b


def run(program, file, *options):
    done = subprocess.run([program, "bundle", "--json", *options, file], capture_output=True, text=True)
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{file}: exit {done.returncode}: {done.stderr}")
    return json.loads(done.stdout)["bundle"]
