"""Diagnosis of plates of several sizes. No peer: no general-purpose library does this.

    bench_diagnosis.py BUILD_FOLDER [COUNT,COUNT,...]
"""
import os
import subprocess
import sys

import growth


def main():
    program = os.path.join(sys.argv[1], "tests/bench/bench_diagnosis")
    counts, seconds = [], []
    for count in (sys.argv[2] if len(sys.argv) > 2 else "10000,30000,100000").split(","):
        process = subprocess.Popen([program, count], stdout=subprocess.PIPE, text=True)
        said = process.stdout.read()
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode != 0:
            return process.returncode
        print(f"{said.rstrip()}; peak memory {used.ru_maxrss / 1024:.0f} MB, the measures included", flush=True)
        counts.append(int(count))
        seconds.append(used.ru_utime + used.ru_stime)
    growth.say("all three, processor", counts, seconds)
    return 0


if __name__ == "__main__":
    sys.exit(main())
