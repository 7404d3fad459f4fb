"""Tells the edits that no test noticed and that nobody has accepted; exits with 1 if there are any.

usage: mutants_accepted.py MISSED ACCEPTED
A line of ACCEPTED: FILE: EDIT | SOURCE LINE | why the result can't differ
"""
import pathlib
import sys


def key(line):
    """File, edit and source line of an edit: what stays when lines above it come or go."""
    file, number, _, edit = line.split(":", 3)
    source = pathlib.Path(file).read_text().splitlines()[int(number) - 1].strip()
    return f"{file}: {edit.strip()} | {source}"


def main():
    missed = [key(line) for line in pathlib.Path(sys.argv[1]).read_text().splitlines() if line]
    lines = [line for line in pathlib.Path(sys.argv[2]).read_text().splitlines() if line and not line.startswith("#")]
    accepted = {line.rsplit(" | ", 1)[0] for line in lines}
    new = [line for line in missed if line not in accepted]
    for line in new:
        print(f"not noticed: {line}")
    print(f"{len(missed)} edits not noticed, {len(missed) - len(new)} of them accepted")
    return 1 if new else 0


sys.exit(main())
