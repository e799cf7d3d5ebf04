"""The exchange file."""
import gzip
import xml.etree.ElementTree as tree

from scene import case, report, run


# ---- the exchange file ----

QIF = "{http://qifstandards.org/xsd/qif3}"


def statuses(document, kind):
    found = document.iter(f"{QIF}{kind}CharacteristicMeasurement")
    return [m.find(f"{QIF}Status/*").text for m in found]


@case
def a_broken_share_is_seen_in_the_qif(folder):
    """Every hole within its outermost limits, too many of them beyond the standard ones."""
    (folder / "measured.csv").write_text(
        "".join(line.rsplit(",", 1)[0] + ",25.80\n" if "," in line and not line.startswith("hole") else line + "\n"
                for line in (folder / "measured.csv").read_text().splitlines()))
    run("inspect", "-q", "small.ini", cwd=folder, status=1)
    document = tree.parse(folder / "small-report/results.qif").getroot()
    assert set(statuses(document, "Diameter")) == {"PASS"}, statuses(document, "Diameter")
    assert "FAIL" in statuses(document, "UserDefinedUnit")
    assert document.find(f".//{QIF}InspectionStatus/*").text == "FAIL"


@case
def a_name_cannot_become_an_element_of_the_qif(folder):
    lie = "</Name></DiameterCharacteristicItem><x a='&\"'"
    for name in ("nominal.csv", "measured.csv"):
        path = folder / name
        path.write_text(path.read_text().replace("A1,", '"' + lie.replace('"', '""') + '",'))
    run("inspect", "-q", "small.ini", cwd=folder)
    document = tree.parse(folder / "small-report/results.qif").getroot()
    names = [n.text for n in document.iter(f"{QIF}Name")]
    assert lie in names, names[:5]


@case
def a_changed_qif_is_seen_packed_or_not(folder):
    path = report(folder)
    plain = (path / "results.qif").read_bytes()
    (path / "results.qif").write_bytes(plain.replace(b">FAIL<", b">PASS<").replace(b">PASS<", b">FAIL<", 1))
    assert b"results.qif" in run("verify", path, cwd=folder, status=1).stdout
    run("inspect", "-q", "small.ini", "--qif-gz", cwd=folder)
    assert not (path / "results.qif").exists()
    run("verify", path, cwd=folder, status=0)
    whole = gzip.decompress((path / "results.qif.gz").read_bytes())
    packed = gzip.compress(whole, 9, mtime=1)  # by another program: the same text
    lies = {"another": gzip.compress(whole.replace(b">PASS<", b">FAIL<", 1)), "cut short": packed[:-200],
            "more behind": packed + b"x", "more within": gzip.compress(whole + b"x"), "no gzip": whole,
            "a bomb": gzip.compress(whole + bytes(300_000_000), 1)}
    (path / "results.qif.gz").write_bytes(packed)
    run("verify", path, cwd=folder, status=0)
    for name, lie in lies.items():
        (path / "results.qif.gz").write_bytes(lie)
        done = run("verify", path, cwd=folder, timeout=20)
        assert done.returncode == 1 and b"results.qif.gz" in done.stdout, (name, done.stdout)
    (path / "results.qif.gz").write_bytes(packed)
    (path / "results.qif").write_bytes(plain)  # two, of which a reader may take either
    assert b"results.qif.gz" in run("verify", path, cwd=folder, status=1).stdout
