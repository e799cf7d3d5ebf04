#!/usr/bin/python3
"""How often a heat that differs is found, against the noncentral F distribution of scipy.

    heats.py SIMULATION [RUNS]     SIMULATION: tests/simulation/history_simulation.c; 2000 runs a row

One heat of h out of n plates lies d standard deviations off: between groups of h plates the sum of squares has the
noncentrality h (d - d h/n)^2 + (n - h) (d h/n)^2 = d^2 h (1 - h/n), with n/h - 1 and n - n/h degrees of freedom.
"""
import subprocess
import sys

from scipy import stats

LEVEL, FACTORS, TESTS, ERRORS = 0.05, 4, 48, 3


def power(off, plates, heat, level):
    between, within = plates // heat - 1, plates - plates // heat
    limit = stats.f.isf(level, between, within)
    return stats.ncf.sf(limit, between, within, off ** 2 * heat * (1 - heat / plates)) if off else level


def main():
    runs = int(sys.argv[2]) if len(sys.argv) > 2 else 2000
    lines = subprocess.run([sys.argv[1], "--heats", str(runs)], capture_output=True, text=True, check=True).stdout.splitlines()
    wrong = 0
    print(f"{runs} runs: found / noncentral F, at .05; .05/{FACTORS}; .05/{TESTS}; and after Holm")
    for line in lines[1:]:
        off, plates, heat, *found, holm, any_found = (float(v) for v in line.split())
        said = []
        for share, level in zip(found, (LEVEL, LEVEL / FACTORS, LEVEL / TESTS)):
            truth = power(off, plates, heat, level)
            wrong += abs(share - truth) > ERRORS * (truth * (1 - truth) / runs) ** 0.5 + 0.5 / runs
            said.append(f"{share:.4f} / {truth:.4f}")
        # Holm asks the smallest of all p-values at .05/TESTS, the next at a little more: never less often
        wrong += not found[2] <= holm <= found[2] + 0.03
        print(f"{off:g} sigma: {'; '.join(said)}; {holm:.4f}", flush=True)
        if off == 0:
            wrong += any_found > LEVEL + ERRORS * (LEVEL * (1 - LEVEL) / runs) ** 0.5
    if len(lines) != 6 or wrong:
        sys.exit(f"{wrong} figures more than {ERRORS} standard errors from the noncentral F, or too few rows")


main()
