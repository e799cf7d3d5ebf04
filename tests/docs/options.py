#!/usr/bin/env python3
"""Program, help pages, man page and completion know the same commands and options.

    options.py PROGRAM [FOLDER]

    program     an option that the program takes is on the command's help page, and the other way round
    man page    has every command, and every option with its argument
    completion  offers every command, and each command's options and no others
"""
import re
import subprocess
import sys
from pathlib import Path

OPTION = re.compile(r"^ +(?:-\w, )?(--[a-z][a-z-]*)( [A-Z][\w:,.]*| [a-z]+\|\w+\S*)?", re.M)
SECOND = re.compile(r", (--[a-z][a-z-]*) [A-Z]")  # "--width W, --length L" on one line


def said(*words):
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def options_of(page):
    """{option: takes a value}"""
    found = {name: bool(value) for name, value in OPTION.findall(page)}
    found.update({name: True for name in SECOND.findall(page)})
    return found


def program_takes(program, command, option):
    done = subprocess.run([program, command, option, "--help"], capture_output=True, text=True)
    return "does not know option" not in done.stderr


def options_in_source(root, command):
    """The table of a command's own options: {"tube", true, ...}."""
    file = root / "src/cli" / f"cmd_{'inspect' if command in ('flatness', 'holddown', 'holes', 'stack', 'roughing') else command}.c"
    return {"--" + name for name in re.findall(r'\{"([a-z-]+)", (?:true|false), &', file.read_text())}


def completed(script, *words):
    line = f"""source '{script}'
COMP_WORDS=({' '.join(f"'{w}'" for w in words)}); COMP_CWORD={len(words) - 1}
_plateproof; printf '%s\\n' "${{COMPREPLY[@]}}" """
    return set(said("bash", "-c", line).split())


def man_options(text):
    plain = text.replace("\\-", "-").replace("\\fI", "").replace("\\fR", "").replace("\\fB", "").replace('"', "")
    return {(section, option) for section, body in sections(plain)
            for option in re.findall(r"(--[a-z][a-z-]*)", body)}, plain


def sections(plain):
    """(command, text) of the part on each command; ("", ...) for options of all."""
    for part in re.split(r"^\.SS ", plain.replace(".SH OPTIONS", ".SS everywhere"), flags=re.M)[1:]:
        name = part.split("\n", 1)[0].split()[0]
        body = re.split(r"^\.S[SH] ", part.split("\n", 1)[1], flags=re.M)[0]
        yield ("" if name == "everywhere" else name), body


def main():
    program = sys.argv[1]
    root = Path(sys.argv[2] if len(sys.argv) > 2 else Path(__file__).parent.parent.parent)
    script = root / "scripts/completion.bash"
    commands = re.findall(r"^  ([a-z]+) {2,}", said(program, "--help"), re.M)
    man, plain = man_options((root / "docs/plateproof.1").read_text())
    wrong, count = [], 0
    if completed(script, "plateproof", "") != set(commands) | {"--help", "--version"}:
        wrong.append("completion: the list of commands is not that of plateproof --help")
    for command in commands:
        options = options_of(said(program, command, "--help"))
        own = options_in_source(root, command)
        count += len(options)
        for option in own - set(options):
            wrong.append(f"{command} --help: {option} is missing")
        for option in options:
            if not program_takes(program, command, option):
                wrong.append(f"{command} --help: the program does not know {option}")
            page = command if option in own else ""
            if (page, option) not in man:
                wrong.append(f"man page: {option} of {page or 'every command'} is missing")
        if f".SS {command}" not in plain:
            wrong.append(f"man page: {command} is missing")
        offered = {w for w in completed(script, "plateproof", command, "-") if w.startswith("--")}
        if offered != set(options):
            wrong.append(f"completion of {command}: {' '.join(sorted(offered ^ set(options)))}")
    print("\n".join(sorted(set(wrong)) + [f"{len(commands)} commands, {count} options, {len(wrong)} wrong"]))
    return 1 if wrong or count < 50 else 0


if __name__ == "__main__":
    sys.exit(main())
