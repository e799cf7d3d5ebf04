"""The work list of a plate with one fault of each kind (scripts/invented_plate.py), in every form that it comes in."""

import csv
import subprocess

import invented_plate
from shop import grid, job, measured, nominal, readings

CAUTION = "Not a repair instruction"


def inspect(shop, *more):
    invented_plate.write(shop.at)
    done = subprocess.run([shop.program, "inspect", "honest.ini", "-q", "-o", "report", *more], cwd=shop.at,
                          capture_output=True, text=True, timeout=120)
    assert done.returncode == 1, done.stderr
    with open(shop.at / "report" / "worklist.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def case_work_list_of_every_kind(shop):
    rows = {row["hole"]: row for row in inspect(shop)}
    wanted = {invented_plate.name(place): fault[-1] for place, fault in invented_plate.FAULTS.items()}
    assert {name: row["todo"] for name, row in rows.items()} == wanted
    assert rows["R05C12"]["also"] == "ream"
    # the neighbour that came nearer bounds the reaming of R03C04; its twin R14C05 has the whole tolerance
    assert float(rows["R03C04"]["ream_upper"]) < float(rows["R14C05"]["ream_upper"]) - 0.05
    assert "the metal to R03C05" in rows["R03C04"]["what_to_do"]
    # nothing that was settled, and nothing good, is to be touched; nobody is told to plug
    assert rows["R10C13"]["what_to_do"] == "Nothing: accepted under concession (NC-12)."
    assert not any("plug" in row["what_to_do"].lower() for row in rows.values())


def case_work_list_ream_targets_hold(shop):
    """Ream as told, to either end, measure again: no undersize is left and no ligament lost its class."""
    rows = inspect(shop)
    _, before, _ = shop.run(job="honest.ini")
    told = {row["hole"]: row for row in rows if row["ream_to"]}
    assert len(told) >= 4
    text = (shop.at / "measured.csv").read_text(encoding="utf-8").splitlines()
    for end in ("ream_lower", "ream_to", "ream_upper"):
        lines = [text[0]]
        for line in text[1:]:
            cells = line.split(",")
            if cells[0] in told:
                cells[3] = f"{float(told[cells[0]][end]):.4f}"
            lines.append(",".join(cells))
        shop.write("measured.csv", "\n".join(lines) + "\n")
        _, after, _ = shop.run(job="honest.ini")
        assert after["holes"]["diameter"]["undersize"] == before["holes"]["diameter"]["undersize"] - len(told), end
        assert after["holes"]["ligament"]["verdict"] == before["holes"]["ligament"]["verdict"], end
        assert after["holes"]["ligament"]["in_remainder"] == before["holes"]["ligament"]["in_remainder"], end
        left = {row["hole"]: row["todo"] for row in after["holes"]["work_list"]["rows"]}
        assert all(left.get(name) != "ream" and left.get(name) != "re-measure" for name in told), (end, left)


def case_work_list_is_one_everywhere(shop):
    rows = inspect(shop, "--xlsx")
    report = shop.at / "report"
    page = (report / "report.html").read_text(encoding="utf-8")
    paper = subprocess.run(["pdftotext", "-layout", report / "worklist.pdf", "-"], capture_output=True, text=True).stdout
    _, results, _ = shop.run(job="honest.ini")
    work = results["holes"]["work_list"]
    assert [row["hole"] for row in work["rows"]] == [row["hole"] for row in rows]
    assert [row["todo"] for row in work["rows"]] == [row["todo"] for row in rows]
    assert sum(work["counts"].values()) == work["count"] == len(rows)
    for name in (row["hole"] for row in rows):
        assert name in page and name in paper, name
    assert CAUTION in page and CAUTION in paper
    sheets = subprocess.run(["unzip", "-p", report / "results.xlsx", "xl/workbook.xml"], capture_output=True, text=True).stdout
    assert 'name="work list"' in sheets, sheets
    verified = subprocess.run([shop.program, "verify", "report"], cwd=shop.at, capture_output=True, text=True)
    assert verified.returncode == 0, verified.stdout
    with open(report / "worklist.pdf", "r+b") as file:
        file.seek(2000)
        byte = file.read(1)
        file.seek(2000)
        file.write(bytes([byte[0] ^ 1]))
    verified = subprocess.run([shop.program, "verify", "report"], cwd=shop.at, capture_output=True, text=True)
    assert verified.returncode == 1 and "worklist.pdf" in verified.stdout, verified.stdout


def case_work_list_same_for_any_threads(shop):
    seen = set()
    for threads in ("1", "2", "8"):
        inspect(shop, "--threads", threads)
        seen.add(tuple((shop.at / "report" / file).read_bytes() for file in ("worklist.csv", "worklist.pdf", "results.json")))
    assert len(seen) == 1


def case_work_list_not_on_a_good_plate(shop):
    holes = grid()
    shop.write("nominal.csv", nominal(holes))
    shop.write("measured.csv", measured(readings(holes)))
    shop.write("job.ini", job())
    status, page, said = shop.report()
    assert status == 0, said
    assert not (shop.at / "report" / "worklist.csv").exists() and not (shop.at / "report" / "worklist.pdf").exists()
    assert 'id="work"' not in page and 'class="tiles"' not in page


def case_work_list_counts_rows_only_where_names_do_not(shop):
    """R3C2 is the drawing's row and column; the program's own count, half pitches and all, would contradict it."""
    places = list(grid().values())
    for names, counted in (([f"R{k // 5 + 3}C{k % 5 + 2}" for k in range(20)], False), ([f"H{k + 1}" for k in range(20)], True)):
        holes = dict(zip(names, places))
        rows = readings(holes)
        rows[6] = (*rows[6][:3], rows[6][3] - 0.5)
        shop.write("nominal.csv", nominal(holes))
        shop.write("measured.csv", measured(rows))
        shop.write("job.ini", job())
        status, page, err = shop.report()
        assert status == 1 and names[6] in page, err
        assert ("row 2, column 2; x" in page) == counted, names[6]
