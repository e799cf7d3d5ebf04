"""results.qif read by a program that knows the element names of QIF 3.0 (ISO 23952) and nothing of ours:
positions, diameters and the share rules are worked out again from the measured circles and the tolerances
in the file, and held against its values and its statuses. What stands in attributes (the guard factor, the
bonus is not among them) is named by the file itself.

    qif_reader.py PLATEPROOF SOURCE_FOLDER

Each file is held against the schemas of the standard where those are at hand.
"""

import gzip
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as tree
from pathlib import Path

NS = "{http://qifstandards.org/xsd/qif3}"
CLOSE = 1e-6  # mm, and the allowance of every comparison
IDENTITY = "serial = 0001\nheat_number = H-204\ndrawing = T-3\ndrawing_revision = C\ninspection_date = 2026-11-20\n"
JOBS = ("both_faces", "guarded", "inch_repeats", "others_plugged", "thin")
PASS, FAIL, OPEN = "PASS", "FAIL", "INDETERMINATE"


def number(element, name):
    found = element.find(NS + name)
    return None if found is None else float(found.text)


def reference(element, name):
    return element.find(NS + name).text


def attributes(element):
    return {a.get("name"): a.get("value") for a in element.findall(f"{NS}Attributes/*")}


class Document:
    def __init__(self, stream):
        root = tree.parse(stream).getroot()
        self.root = root
        assert root.get("versionQIF") == "3.0.0"
        self.by_id, ids = {}, []
        for element in root.iter():
            if element.get("n") is not None:
                children = [c for c in element if c.tag != NS + "Attributes" or element.tag != NS + "Part"]
                assert len(children) == int(element.get("n")), f"{element.tag} says n={element.get('n')}"
            if element.get("id") is not None:
                assert element.get("id") not in self.by_id, "an identifier stands twice"
                self.by_id[element.get("id")] = element
                ids.append(int(element.get("id")))
        assert max(ids) <= int(root.get("idMax"))
        self.results = root.find(f"{NS}Results/{NS}MeasurementResultsSet/{NS}MeasurementResults")
        self.guard = float(attributes(self.results)["guardFactor"])
        self.measured = {}
        for feature in self.results.find(NS + "MeasuredFeatures") or []:
            if feature.find(NS + "FeatureItemId") is not None:
                self.measured[reference(feature, "FeatureItemId")] = feature
        self.partial = root.find(f".//{NS}PartialInspection") is not None

    def characteristics(self, kind):
        """(measurement, item, nominal, definition) of each measured characteristic of a kind"""
        for m in self.results.find(f"{NS}MeasuredCharacteristics/{NS}CharacteristicMeasurements"):
            if m.tag != f"{NS}{kind}CharacteristicMeasurement":
                continue
            item = self.by_id[reference(m, "CharacteristicItemId")]
            nominal = self.by_id[reference(item, "CharacteristicNominalId")]
            yield m, item, nominal, self.by_id[reference(nominal, "CharacteristicDefinitionId")]

    def features(self, item):
        """(nominal, measured) of each feature that an item is about"""
        for i in item.findall(f"{NS}FeatureItemIds/{NS}Id"):
            yield self.by_id[reference(self.by_id[i.text], "FeatureNominalId")], self.measured[i.text]


def status_of(measurement):
    return next(iter(measurement.find(NS + "Status"))).text


def worse(a, b):
    order = [PASS, OPEN, FAIL]
    return max(a, b, key=order.index)


def upper(value, limit, guard, bias=0.0):
    if limit is None:
        return PASS
    if value + guard <= limit + CLOSE:
        return PASS
    return FAIL if value - guard - (2 * bias if guard > 0 else 0) > limit + CLOSE else OPEN


def lower(value, limit, guard):
    return PASS if limit is None else upper(-value, -limit, guard)


def uncertainty(value):
    return float(value.get("combinedUncertainty", 0)), float(value.get("meanError", 0))


def place(feature):
    return [float(c) for c in feature.find(NS + "Location").text.split()]


def turned(document, definition, at):
    """into the frame of reference of the tolerance"""
    frame = attributes(document.by_id[reference(definition, "DatumReferenceFrameId")])
    if "turnDegrees" not in frame:
        return at
    angle = math.radians(float(frame["turnDegrees"]))
    c, s = math.cos(angle), math.sin(angle)
    return [c * at[0] - s * at[1] + float(frame["shiftX"]), s * at[0] + c * at[1] + float(frame["shiftY"])]


def bonus(document, definition, feature):
    size = definition.find(NS + "SizeCharacteristicDefinitionId")
    if definition.find(NS + "MaterialCondition").text != "MAXIMUM" or size is None:
        return 0.0
    least = number(document.by_id[size.text].find(NS + "Tolerance"), "MinValue")
    smallest = number(feature, "DiameterMin")
    return 0.0 if least is None or smallest is None else max(0.0, smallest - least)


def check_positions(document):
    count = 0
    for m, item, _, definition in document.characteristics("Position"):
        if status_of(m) == "NOT_MEASURED":
            assert m.find(NS + "Value") is None
            continue
        value = m.find(NS + "Value")
        ((nominal, measured),) = document.features(item)
        a, b = place(nominal), turned(document, definition, place(measured))
        position = 2 * math.hypot(b[0] - a[0], b[1] - a[1])
        assert abs(position - float(value.text)) < CLOSE, f"position {position}, the file says {value.text}"
        u, bias = uncertainty(value)
        extra = bonus(document, definition, measured)
        stated = number(m, "Bonus") or 0.0
        if definition.find(NS + "SizeCharacteristicDefinitionId") is not None:
            assert abs(extra - stated) < CLOSE
        limit = number(definition, "ToleranceValue") + stated
        verdict = upper(position, limit, document.guard * u, bias)
        assert verdict == status_of(m), f"position {position} of {limit}: {verdict}, the file says {status_of(m)}"
        count += 1
    return count


class Shared:
    """One hole, or one pair, over its faces."""

    def __init__(self):
        self.outer, self.standard, self.between = PASS, PASS, False

    def add(self, outer, standard, beyond_standard, beyond_outer):
        self.outer = worse(self.outer, outer)
        self.standard = worse(self.standard, standard)
        self.rank = max(getattr(self, "rank", 0), 2 if beyond_outer else 1 if beyond_standard else 0)
        self.between = self.rank == 1


def standards(document):
    """kind -> (share measurement, its largest value, the standard limits)"""
    found = {}
    for m, _, nominal, definition in document.characteristics("UserDefinedUnit"):
        if m.find(NS + "Value").get("unitName") != "share":
            continue
        standard = document.by_id[attributes(definition)["standardDefinitionId"]]
        kind = standard.tag[len(NS) : -len("CharacteristicDefinition")]
        found[kind] = (m, number(nominal, "MaxValue"), standard.find(NS + "Tolerance"))
    return found


def check_diameters(document, standard, shared):
    count = 0
    for m, item, _, definition in document.characteristics("Diameter"):
        if status_of(m) == "NOT_MEASURED":
            assert m.find(NS + "Value") is None
            continue
        ((nominal, measured),) = document.features(item)
        tolerance = definition.find(NS + "Tolerance")
        least, most = number(measured, "DiameterMin"), number(measured, "DiameterMax")
        value = m.find(NS + "Value")
        tube = "from the nominal list" not in definition.find(NS + "Description").text
        if value is None:  # a plug gauge: a status, no value
            beyond = attributes(m)["withinStandard"]
            inside = {"yes": PASS, "no": FAIL, "not known": OPEN}[beyond]
            if tube:
                shared.setdefault(reference(item, "Name").rsplit(" ", 2)[0], Shared()).add(
                    status_of(m), inside, inside == FAIL, status_of(m) == FAIL
                )
            continue
        assert min(abs(float(value.text) - d) for d in (least, most)) < CLOSE
        guard = document.guard * uncertainty(value)[0]
        low, high = number(tolerance, "MinValue"), number(tolerance, "MaxValue")
        verdict = worse(lower(least, low, guard), upper(most, high, guard))
        assert verdict == status_of(m), f"diameter {least}..{most}: {verdict}, the file says {status_of(m)}"
        count += 1
        if not tube or not standard:
            continue
        inner = number(standard, "MaxValue")
        shared.setdefault(nominal.get("id"), Shared()).add(
            verdict,
            upper(most, inner, guard),
            inner is not None and most > inner + CLOSE,
            (high is not None and most > high + CLOSE) or (low is not None and least < low - CLOSE),
        )
    return count


def check_ligaments(document, standard, shared):
    count = 0
    for m, item, _, definition in document.characteristics("DistanceBetween"):
        value = m.find(NS + "Value")
        guard = document.guard * uncertainty(value)[0]
        low = number(definition.find(NS + "Tolerance"), "MinValue")
        width = float(value.text)
        verdict = lower(width, low, guard)
        assert verdict == status_of(m)
        count += 1
        if not standard:
            continue
        pair = reference(item, "Name").rsplit(" ", 2)[0]
        inner = number(standard, "MinValue")
        shared.setdefault(pair, Shared()).add(
            verdict, lower(width, inner, guard), width < inner - CLOSE, width < low - CLOSE
        )
    return count


def check_pitch_errors(document):
    count = 0
    for m, item, _, definition in document.characteristics("UserDefinedLinear"):
        value = m.find(NS + "Value")
        (one, one_read), (two, two_read) = document.features(item)
        off = abs(math.dist(place(one_read), place(two_read)) - math.dist(place(one), place(two)))
        assert abs(off - float(value.text)) < CLOSE, f"pitch error {off}, the file says {value.text}"
        limit = number(definition.find(NS + "Tolerance"), "MaxValue")
        verdict = upper(off, limit, document.guard * uncertainty(value)[0])
        assert verdict == status_of(m), f"pitch error {off} of {limit}: {verdict}, the file says {status_of(m)}"
        count += 1
    return count


def check_share(document, kind, share, shared):
    m, largest, _ = share
    stated = attributes(m)
    counted = int(stated["counted"])
    if kind == "Diameter":  # every tube hole, or those of the sample
        circles = [e for e in document.by_id.values() if e.tag == NS + "CircleFeatureNominal"]
        items = [e for e in document.by_id.values() if e.tag == NS + "CircleFeatureItem"]
        read = {reference(i, "FeatureNominalId") for i in items}
        tubes = {reference(c, "FeatureDefinitionId") for c in circles if c.get("id") in shared}
        unread = [c for c in circles if c.get("id") not in read and reference(c, "FeatureDefinitionId") in tubes]
        if tubes:
            assert counted == len(shared) + (0 if document.partial else len(unread)), "the holes that count"
    between = sum(s.between for s in shared.values())
    assert between == int(stated["between"]), f"{kind}: {between} between, the file says {stated['between']}"
    assert abs(between / counted - number(m, "Value")) < 1e-12
    allowed = math.floor(largest * counted + 1e-9)
    assert allowed == int(stated["betweenAllowed"])
    held = [s for s in shared.values() if s.outer != FAIL]
    proven = sum(s.standard == FAIL for s in held)
    perhaps = sum(s.standard != PASS for s in held)
    verdict = FAIL if proven > allowed else PASS if perhaps <= allowed else OPEN
    assert verdict == status_of(m), f"{kind}: share {verdict}, the file says {status_of(m)}"
    return verdict


def check_extras(document):
    """The number of measured circles that no nominal one belongs to, against the number that may be."""
    lone = [f for f in document.results.findall(f"{NS}MeasuredFeatures/{NS}CircleFeatureMeasurement")
            if f.find(NS + "FeatureItemId") is None]
    places = {tuple(round(c, 3) for c in place(f)) for f in lone}
    stated = [(m, nominal) for m, _, nominal, _ in document.characteristics("UserDefinedUnit")
              if m.find(NS + "Value").get("unitName") == "hole"]
    assert len(stated) == bool(lone), "extra holes are a characteristic"
    for m, nominal in stated:
        count = int(number(m, "Value"))
        assert 0 < count <= len(lone) and (len(places) > 1 or count == 1), (count, len(lone))
        assert status_of(m) == (FAIL if count > number(nominal, "MaxValue") else PASS)
    return len(lone)


def check(stream, results):
    document = Document(stream)
    shares = standards(document)
    inner = {kind: share[2] for kind, share in shares.items()}
    holes, pairs = {}, {}
    counts = {
        "positions": check_positions(document),
        "diameters": check_diameters(document, inner.get("Diameter"), holes),
        "ligaments": check_ligaments(document, inner.get("DistanceBetween"), pairs),
        "extras": check_extras(document),
    }
    document.pitch_errors = check_pitch_errors(document)
    assert (document.pitch_errors > 0) == bool((results.get("holes") or {}).get("pitch_error")), document.pitch_errors
    verdicts = {
        kind: check_share(document, kind, share, holes if kind == "Diameter" else pairs)
        for kind, share in shares.items()
    }
    whole = {"conforms": PASS, "does not conform": FAIL, "not proven": "UNKNOWN", "not judged": "NOT_CALCULATED"}
    assert document.results.find(f"{NS}InspectionStatus/*").text == whole[results["verdict"]]
    return counts, verdicts, document


# ---- what is read ----


def run(program, job, folder, *options):
    done = subprocess.run([program, "inspect", str(job), "-q", "-o", str(folder), *options], capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr
    return json.loads((folder / "results.json").read_text())


def held_against_schema(path, schemas):
    if not schemas.is_dir() or not shutil.which("xmllint"):
        return
    done = subprocess.run(
        ["xmllint", "--nonet", "--noout", "--schema", "xsd/QIFApplications/QIFDocument.xsd", str(path)],
        cwd=schemas,
        env={**os.environ, "XML_CATALOG_FILES": str(schemas / "catalog.xml")},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr[:2000]


def read_job(program, job, place, schemas, *options):
    folder = place / f"{job.parent.name}-{job.stem}{len(options)}"
    results = run(program, job, folder, *options)
    packed = folder / "results.qif.gz"
    if packed.exists():
        assert not (folder / "results.qif").exists()
        (folder / "unpacked").write_bytes(gzip.decompress(packed.read_bytes()))
    path = folder / ("unpacked" if packed.exists() else "results.qif")
    held_against_schema(path, schemas)
    with open(path, "rb") as stream:
        return (*check(stream, results), path)


def copy(source, target, section=None, lines=""):
    """A copy of a job, with lines more behind the head of a section."""
    target.mkdir()
    for file in source.iterdir():
        if file.suffix in (".ini", ".csv"):
            shutil.copy(file, target)
    job = target / "job.ini"
    text = job.read_text()
    keys = [line.split("=")[0].strip() for line in lines.splitlines()]
    kept = [line for line in text.splitlines() if line.split("=")[0].strip() not in keys or "=" not in line]
    job.write_text("\n".join(kept).replace(f"[{section}]", f"[{section}]\n{lines}") + "\n")
    return job


def crowd(source, target, share):
    """A copy of a job in which that share of the holes lies between the standard and the outermost limit."""
    job = copy(source, target, "job", IDENTITY)
    rows = (target / "measured.csv").read_text().splitlines()
    at = rows[0].split(",").index("diameter")
    for i in range(1, 1 + int(share * (len(rows) - 1))):
        cells = rows[i].split(",")
        cells[at] = "25.80"  # 25.7048 nominal, 25.7556 standard, 25.9588 outermost
        rows[i] = ",".join(cells)
    (target / "measured.csv").write_text("\n".join(rows) + "\n")
    text = job.read_text().replace("measured = measured.csv", "measured = measured.csv @ARM")
    job.write_text(text + "[instrument ARM]\nserial = A-118\ncalibration_due = 2027-03-01\n")
    return job


def one_more(path):
    """The last row again, as a hole of another name in a place where none is."""
    head, *_, last = path.read_text().splitlines()
    names, cells = head.split(","), last.split(",")
    cells[0] = "not-on-the-drawing"
    for axis in ("x", "y"):
        at = next(i for i, n in enumerate(names) if n.split("_")[0] == axis)
        cells[at] = str(float(cells[at]) + (900 if axis == "x" else 0))
    return ",".join(cells) + "\n"


def check_traceability(document):
    root = document.root
    for path, text in (
        ("Results/ActualComponentSets/ActualComponentSet/ActualComponent/SerialNumber", "0001"),
        ("Results/ActualComponentSets/ActualComponentSet/ActualComponent/Traceability/LotNumber", "H-204"),
        ("Product/PartSet/Part/DefinitionExternal/PrintedDrawing/DrawingNumber", "T-3"),
        ("Product/PartSet/Part/DefinitionExternal/PrintedDrawing/Version", "C"),
        ("MeasurementResources/MeasurementDevices/MeasurementDevice/SerialNumber", "A-118"),
    ):
        found = root.find("/".join(NS + part for part in path.split("/")))
        assert found is not None and found.text == text, path
    for date in root.findall(f".//{NS}ExpirationDate") + root.findall(f".//{NS}InspectionEnd"):
        assert date.text in ("2027-03-01T00:00:00", "2026-11-20T00:00:00"), date.text
    used = {i.text for i in root.findall(f".//{NS}CircleFeatureMeasurement/{NS}MeasurementDeviceIds/{NS}Id")}
    assert used and all(document.by_id[i].tag == NS + "MeasurementDevice" for i in used)


def refuses_lies(path):
    """The reader must see a status that the numbers do not bear out, and a value that the circles do not."""
    text = path.read_text()
    number_at = text.index(">", text.index("<Location", text.index("<CircleFeatureMeasurement"))) + 1
    lies = (
        text.replace("FAIL</CharacteristicStatusEnum>", "PASS</CharacteristicStatusEnum>"),
        text[:number_at] + "0.1" + text[number_at:].lstrip("-0123456789."),
        text.replace("</MaxValue><DefinedAsLimit>true</DefinedAsLimit></UserDefined", "9</MaxValue><DefinedAsLimit>true</DefinedAsLimit></UserDefined"),
    )
    for lie in lies:
        assert lie != text
        (path.parent / "lie").write_text(lie)
        try:
            with open(path.parent / "lie", "rb") as stream:
                check(stream, json.loads((path.parent / "results.json").read_text()))
        except AssertionError:
            continue
        sys.exit("the reader believes a file that lies")


# another job each: what is in force, and that it is in the file
VARIANTS = (
    ("tri_clean", "material_condition = maximum\n", "<Bonus>"),
    ("tri_clean", "align = best-fit\n", "against itself"),
    ("tri_clean", "pattern_limit = 2\n", "turnDegrees"),
    ("tri_clean", "pitch_steps = 3\npitch_error_limit = 0.15\n", "3 pitches apart"),
)


def main():
    program, source = str(Path(sys.argv[1]).resolve()), Path(sys.argv[2]).resolve()
    jobs, schemas = source / "data/reference/jobs", source.parent / "shared/reference/qif"
    if not schemas.is_dir():
        print("the schemas of QIF 3.0 are not at hand: not held against them")
    with tempfile.TemporaryDirectory() as name:
        place, total = Path(name), {}
        for job in (jobs / name / "job.ini" for name in JOBS):
            counts, verdicts, _, path = read_job(program, job, place, schemas, "--qif-gz")  # every ligament
            for kind, count in counts.items():
                total[kind] = total.get(kind, 0) + count
            print(f"{job.parent.name}: {counts} shares {verdicts}")
        assert min(n for kind, n in total.items() if kind != "extras") > 500, total
        refuses_lies(path)
        for i, (base, lines, said) in enumerate(VARIANTS):
            _, _, _, path = read_job(program, copy(jobs / base, place / f"v{i}", "holes", lines), place, schemas)
            assert said in path.read_text(), said
        for share, wanted in ((0.039, PASS), (0.06, FAIL)):
            job = crowd(jobs / "tri_clean", place / f"s{share}", share)
            _, verdicts, document, _ = read_job(program, job, place, schemas)
            assert verdicts["Diameter"] == wanted, verdicts
            assert document.results.find(f"{NS}InspectionStatus/*").text == wanted
            print(f"share {share}: {verdicts}")
        check_traceability(document)
        job = copy(jobs / "tri_clean", place / "extra", "job", "serial = 7\n")
        with open(job.parent / "measured.csv", "a") as list_of_holes:
            list_of_holes.write(one_more(job.parent / "measured.csv"))
        counts, _, document, _ = read_job(program, job, place, schemas)
        assert counts["extras"], "an extra hole is a measured circle"
        _, _, document, _ = read_job(program, jobs / "sample/job.ini", place, schemas, "--qif-gz")
        assert document.partial
    print("what the file says follows from its circles and tolerances")


if __name__ == "__main__":
    main()
