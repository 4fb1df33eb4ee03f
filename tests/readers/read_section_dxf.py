"""Reads the DXF files of sections with ezdxf and compares them with their sections.json.

    python read_section_dxf.py FOLDER

FOLDER holds sections.json and the drawings, or folders that do. Ends with status 1 when a file has audit errors, had to be
mended, is missing, or differs in unit, layers, profiles, their lengths or the line of 100 mm.
"""

import json
import math
import sys
from pathlib import Path

import ezdxf

from dxf_document import opened
from handed_over import Differs, file_name, need


def chains(section, side):
    """Lengths of the profiles of one side: the panel before the flange, parted where nothing was seen."""
    found = []
    for sheet in ("panel", "flange"):
        run = []
        for step in [s for s in section["steps"] if s["sheet"] == sheet] + [None]:
            figure = step and step[side]
            if figure is not None:
                run.append((step["from_edge_mm"], figure["value"]))
                continue
            if len(run) > 1:
                found.append(sum(math.dist(p, q) for p, q in zip(run, run[1:])))
            run = []
    return found


def compare(path, pair):
    space, scale = opened(path, ("FIRST", "SECOND", "REF"))
    count = 0
    for layer, side in (("FIRST", "a"), ("SECOND", "b")):
        found = list(space.query(f'LWPOLYLINE[layer=="{layer}"]'))
        wanted = [length for s in pair["sections"] for length in chains(s, side)]
        need(len(found) == len(wanted), f"{len(found)} profiles on {layer} instead of {len(wanted)}")
        for line, length in zip(found, wanted):
            points = list(line.get_points("xy"))
            drawn = sum(math.dist(p, q) for p, q in zip(points, points[1:])) * scale
            need(abs(drawn - length) < 1e-5, f"a profile on {layer} is {drawn:.6f} mm long instead of {length:.6f}")
        count += len(found)
    reference = list(space.query('LINE[layer=="REF"]'))
    need(len(reference) == 1 + 2 * len(pair["sections"]), "crosses at the edge are missing")
    length = reference[0].dxf.start.distance(reference[0].dxf.end) * scale
    need(abs(length - 100.0) < 1e-5, f"the line of 100 mm is {length:.6f} mm long")
    words = [t.dxf.text for t in space.query("TEXT")]
    need(any(pair["name"] in w for w in words), f"the label says {words[-1:]}")
    return count


def main(folder):
    bad = good = 0
    for found in sorted(Path(folder).rglob("sections.json")):
        for pair in json.loads(found.read_text(encoding="utf-8"))["pairs"]:
            path = found.parent / file_name(f"{pair['compare']}, sections.dxf")
            try:
                print(f"{path.name}: {compare(path, pair)} profiles, as sections.json says")
                good += 1
            except (Differs, OSError, ezdxf.DXFError) as why:
                print(f"{path.name}: {why}", file=sys.stderr)
                bad += 1
    print(f"DXF of sections: {good} good, {bad} bad")
    return 1 if bad or not good else 0


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1]))
