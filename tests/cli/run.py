#!/usr/bin/env python3
"""Replay recorded command-line sessions and compare every line.

A file *.session holds cases, separated by blank lines:

    # what the case shows
    $ plateproof inspect missing.ini
    2> missing.ini: ...
    = 3

`$` a command for bash, run in a fresh copy of tests/cli/files with plateproof on the PATH; a line
after it is standard output, `2>` standard error, `=` the exit status (0 when left out). `...` in an
expected line stands for any text. Several `$` lines in a case run one after the other in the same
folder.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent


def cases(path):
    case = []
    for line in path.read_text().split("\n") + [""]:
        if line.strip() == "" and case:
            yield case
            case = []
        elif line.strip():
            case.append(line)


def steps(case):
    step = None
    for line in case:
        if line.startswith("# "):
            continue
        if line.startswith("$ "):
            if step:
                yield step
            step = {"command": line[2:], "out": [], "err": [], "status": 0}
        elif line.startswith("2> "):
            step["err"].append(line[3:])
        elif step is None:
            raise ValueError(f"a case begins without a command: {line}")
        elif line.startswith("= "):
            step["status"] = int(line[2:])
        else:
            step["out"].append(line)
    if step:
        yield step


def same(expected, got):
    if len(expected) != len(got):
        return False
    for want, line in zip(expected, got):
        pattern = ".*".join(re.escape(piece) for piece in want.split("..."))
        if not re.fullmatch(pattern, line):
            return False
    return True


def lines_of(text):
    return [line.rstrip() for line in text.split("\n") if line.strip()]


def run_case(case, environment):
    with tempfile.TemporaryDirectory(prefix="plateproof-cli-") as folder:
        work = Path(folder) / "work"
        shutil.copytree(HERE / "files", work)
        for step in steps(case):
            done = subprocess.run(["bash", "-c", step["command"]], cwd=work, env=environment,
                                  capture_output=True, text=True, timeout=120)
            out, err = lines_of(done.stdout), lines_of(done.stderr)
            if step["out"] == ["..."]:
                step["out"] = out
            if done.returncode != step["status"] or not same(step["out"], out) or not same(step["err"], err):
                return step, done
    return None


def main():
    program = Path(sys.argv[1]).resolve()
    environment = dict(os.environ, PATH=f"{program.parent}:{os.environ['PATH']}", LC_ALL="C.UTF-8",
                       DEMO=str(HERE.parent.parent / "data" / "demo"))
    environment.pop("SOURCE_DATE_EPOCH", None)
    wanted = sys.argv[2:] or sorted(str(p) for p in HERE.glob("*.session"))
    count = failed = 0
    for name in wanted:
        for case in cases(Path(name)):
            count += 1
            wrong = run_case(case, environment)
            if wrong:
                failed += 1
                step, done = wrong
                print(f"{Path(name).name}: {case[0]}\n  $ {step['command']}\n  expected status {step['status']}, got {done.returncode}")
                print("  expected out: " + " | ".join(step["out"]) + "\n  got out:      " + " | ".join(lines_of(done.stdout)))
                print("  expected err: " + " | ".join(step["err"]) + "\n  got err:      " + " | ".join(lines_of(done.stderr)))
    print(f"{count - failed} of {count} sessions hold")
    return 1 if failed or not count else 0


if __name__ == "__main__":
    sys.exit(main())
