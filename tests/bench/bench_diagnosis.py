"""Diagnosis of a plate of 100,000 holes. No peer: no general-purpose library does this.

    bench_diagnosis.py BUILD_FOLDER [COUNT]
"""
import os
import resource
import subprocess
import sys


def main():
    program = os.path.join(sys.argv[1], "tests/bench/bench_diagnosis")
    subprocess.run([program, *sys.argv[2:3]], check=True)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"peak memory {peak:.0f} MB, the measures included")
    return 0


if __name__ == "__main__":
    sys.exit(main())
