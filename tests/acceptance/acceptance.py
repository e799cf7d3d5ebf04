#!/usr/bin/env python3
"""What could make a wrong plate look right: one named case for each way, tried on the program as a maker would.

usage: acceptance.py PROGRAM [case...]
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))  # the invented plate

import cases_pattern
import cases_reading
import cases_scope
import cases_setup
import cases_sizes
import cases_work
from shop import Shop

MODULES = [cases_pattern, cases_reading, cases_scope, cases_work, cases_sizes, cases_setup]


def every_case():
    for module in MODULES:
        for name, value in vars(module).items():
            if name.startswith("case_"):
                yield name[5:], value


def main():
    program = str(Path(sys.argv[1]).resolve())
    wanted = sys.argv[2:]
    count = failed = 0
    for name, case in every_case():
        if wanted and name not in wanted:
            continue
        shop = Shop(program)
        count += 1
        try:
            case(shop)
        except Exception as error:  # a case that trips over what it got has failed, whatever the reason
            failed += 1
            print(f"{name}: {type(error).__name__}: {str(error)[:3000]}")
        finally:
            shop.close()
    print(f"{count} cases, {failed} failed")
    return 1 if failed or not count else 0


if __name__ == "__main__":
    sys.exit(main())
