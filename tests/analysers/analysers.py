#!/usr/bin/env python3
"""clang-tidy (.clang-tidy) and cppcheck over src, one file at a time. What they say is held against
exceptions.tsv (tool, file, check, words of the source line, why it is no mistake): what is not listed
there, or listed and no longer said, is wrong.

    analysers.py BUILD_FOLDER [clang-tidy] [cppcheck]       the folder has compile_commands.json
"""

import concurrent.futures
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
SAID = re.compile(r"^(?:/.*/)?(src/[^:]+|include/[^:]+|tests/[^:]+):(\d+):\d+: (?:warning|error|style|performance|portability): (.*) \[([^\]]+)\]$")


def sources():
    names = subprocess.run(["git", "ls-files", "src/*.c"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return names.split()


def clang_tidy(build):
    def one(name):
        # the header turns pp_fail into a macro, which the file that defines pp_fail cannot take
        more = [] if name == "src/base/error.c" else ["--extra-arg=-include", f"--extra-arg={HERE / 'analyser.h'}"]
        done = subprocess.run(["clang-tidy", "-p", str(build), "--quiet", *more, name], cwd=ROOT, capture_output=True, text=True)
        return done.stdout

    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(one, sources()))


def cppcheck(_build):
    done = subprocess.run(
        ["cppcheck", "--std=c17", "--enable=warning,performance,portability", "-q", f"-j{os.cpu_count()}", "-D_GNU_SOURCE",
         "-Iinclude", "-Isrc", "--template={file}:{line}:{column}: {severity}: {message} [{id}]", "src"],
        cwd=ROOT, capture_output=True, text=True)
    return [done.stderr]


def findings(texts):
    found = set()
    for line in "\n".join(texts).splitlines():
        match = SAID.match(line)
        if match:
            name, row, words, check = match.groups()
            source = (ROOT / name).read_text().splitlines()[int(row) - 1]
            found.add((name, check.split(",")[0], int(row), words, source))
    return found


def exceptions(tool):
    rows = [line.split("\t") for line in (HERE / "exceptions.tsv").read_text().splitlines() if line and line[0] != "#"]
    for row in rows:
        if len(row) != 5 or not row[4].strip():
            sys.exit(f"exceptions.tsv: five cells, the last a reason, are wanted: {row}")
    return [tuple(row[1:]) for row in rows if row[0] == tool]


def run(name, tool, build):
    found, listed, used, wrong = findings(tool(build)), exceptions(name), set(), 0
    for file, check, row, words, source in sorted(found):
        match = [e for e in listed if e[0] == file and e[1] == check and e[2] in source]
        used.update(match)
        if not match:
            wrong += 1
            print(f"{name}: {file}:{row}: {words} [{check}]\n    {source.strip()}")
    for e in set(listed) - used:
        wrong += 1
        print(f"{name}: exceptions.tsv lists what is no longer said: {e[0]}, {e[1]}, {e[2]!r}")
    print(f"{name}: {len(sources())} files, {len(found)} findings, {len(listed)} exceptions, {wrong} wrong")
    return wrong


def main():
    tools = {"clang-tidy": clang_tidy, "cppcheck": cppcheck}
    wanted = sys.argv[2:] or list(tools)
    missing = [name for name in wanted if not shutil.which(name)]
    for name in missing:
        print(f"{name}: skipped, the package {name} is missing")
    wrong = sum(run(name, tools[name], Path(sys.argv[1]).resolve()) for name in wanted if name not in missing)
    sys.exit(1 if wrong else 77 if missing else 0)


main()
