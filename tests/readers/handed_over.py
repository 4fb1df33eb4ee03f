"""What both readers need: the drawings of a study.json, the files that belong to them, and the count of good and bad.

Files are named by part and side, after the comparison where two are about one part.
"""

import json
import sys
from pathlib import Path


class Differs(Exception):
    """The file is not what the study says."""


def need(holds, says):
    if not holds:
        raise Differs(says)


def file_name(name):
    return "".join("_" if c in '/\\:*?"<>|' or ord(c) < 32 else c for c in name).strip(" .")


def named_file(folder, drawing, rest):
    """The file of a drawing: its part and `rest`, with the comparison before it or not."""
    stem = f"{drawing['part_name']}{rest}"
    for candidate in (f"{drawing['compare']}, {stem}", stem):
        path = folder / file_name(candidate)
        if path.exists():
            return path
    raise Differs(f"{file_name(stem)} is missing")


def read_all(kind, arguments, groups, read, unreadable):
    """Reads every study and what belongs to it; the exit status. `groups` takes the drawings of a study to lists, one
    per file; `read` takes a folder and such a list to a line that says what was found; `unreadable` are the errors of
    the reading library."""
    folder = Path(arguments[0])
    studies = [Path(a) for a in arguments[1:]] or sorted(folder.rglob("study.json"))
    if not studies:
        print(f"no study.json below {folder}", file=sys.stderr)
        return 1
    bad = good = 0
    for study in studies:
        here = folder if len(arguments) > 1 else study.parent
        for drawings in groups(json.loads(study.read_text(encoding="utf-8"))["drawings"]):
            try:
                print(read(here, drawings))
                good += 1
            except (Differs, OSError, *unreadable) as why:
                print(f"{drawings[0]['part_name']}, {drawings[0]['side']}: {why}", file=sys.stderr)
                bad += 1
    print(f"{kind}: {good} good, {bad} bad")
    return 1 if bad or not good else 0


def main(documentation, *reading):
    """Runs a reader with the arguments of the command line."""
    if len(sys.argv) not in (2, 3):
        sys.exit(documentation)
    sys.exit(read_all(reading[0], sys.argv[1:], *reading[1:]))
