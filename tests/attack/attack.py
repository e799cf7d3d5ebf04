#!/usr/bin/env python3
"""Folders and files from somebody who wishes us ill: each case names what must not happen.

    attack.py PROGRAM SOURCE-FOLDER [CASE...]

Needs nothing but Python's standard library. Every case gets a folder of its own with the small job of
tests/cli/files in it, and a report of it that is made once.
"""

import shutil
import sys
import tempfile
from pathlib import Path

import cases_exchange  # noqa: F401  each module enters its cases
import cases_folders  # noqa: F401
import cases_signed  # noqa: F401
import cases_words  # noqa: F401
from scene import CASES, SOURCE


def main():
    wanted = sys.argv[3:] or list(CASES)
    bad = 0
    for name in wanted:
        place = Path(tempfile.mkdtemp(prefix="attack-"))
        folder = place / "shop"
        shutil.copytree(SOURCE / "tests/cli/files", folder)
        try:
            CASES[name](folder)
        except Exception as problem:  # every case is tried
            bad += 1
            print(f"{name}: {type(problem).__name__}: {problem}"[:2000])
        finally:
            shutil.rmtree(place, ignore_errors=True)
    print(f"{len(wanted) - bad} of {len(wanted)} attacks fail as they should")
    return bad != 0


sys.exit(main())
