"""Reads the DXF files of a hand-over with ezdxf and compares them with its study.json.

    python read_dxf.py FOLDER [STUDY_JSON]

FOLDER holds study.json and the drawings, or folders that do. Ends with status 1 when a file has audit errors, had
to be mended, is missing, or differs in unit, layers, closing, length, area, turning direction, holes or the line of
100 mm.
"""

import math

import ezdxf
from ezdxf.math import bulge_center, bulge_radius

from dxf_document import opened
from handed_over import main, named_file, need

RELATIVE = 1e-7


def close(a, b, unit, what):
    need(abs(a - b) <= 1e-6 + RELATIVE * abs(b), f"{what}: {a:.9g} {unit} instead of {b:.9g}")


def sizes(polyline):
    """Length and signed area of an LWPOLYLINE, its arcs by their own circles."""
    points = list(polyline.get_points("xyb"))
    ends = points[1:] + points[:1] if polyline.closed else points[1:]
    length = area = 0.0
    for (x0, y0, bulge), (x1, y1, _) in zip(points, ends):
        area += (x0 * y1 - x1 * y0) / 2
        chord = math.hypot(x1 - x0, y1 - y0)
        if abs(bulge) < 1e-12:
            length += chord
            continue
        radius = bulge_radius((x0, y0), (x1, y1), bulge)
        centre = bulge_center((x0, y0), (x1, y1), bulge)
        need(abs(math.hypot(x0 - centre.x, y0 - centre.y) - radius) < 1e-6 * radius + 1e-9, "an arc is none")
        sweep = 4 * math.atan(abs(bulge))
        need(sweep <= math.pi + 1e-9, "an arc is wider than half a circle")
        length += radius * sweep
        area += math.copysign(radius * radius * (sweep - math.sin(sweep)) / 2, bulge)
    return length, area


def compare_path(found, wanted, scale, what):
    need(bool(found.closed) == wanted["closed"], f"{what}: closed on one side only")
    length, area = sizes(found)
    close(length * scale, wanted["length_mm"], "mm", f"{what}, length")
    if wanted["closed"]:
        close(area * scale * scale, wanted["area_mm2"], "mm2", f"{what}, area")


def compare(path, drawing):
    space, scale = opened(path, ("CUT", "MARK", "REF"))
    kinds = {e.dxftype() for e in space}
    need(kinds <= {"LWPOLYLINE", "CIRCLE", "LINE", "TEXT"}, f"unexpected kinds {sorted(kinds)}")
    lines = {name: list(space.query(f'LWPOLYLINE[layer=="{name}"]')) for name in ("CUT", "MARK")}
    for layer, key in (("CUT", "cut"), ("MARK", "mark")):
        if drawing[key] is not None:
            need(lines[layer], f"nothing on {layer}")
            compare_path(lines[layer][0], drawing[key], scale, f"outline on {layer}")
    if drawing["cut"] is not None:
        need(sizes(lines["CUT"][0])[1] > 0, "the cut path runs clockwise")
    circles = {name: list(space.query(f'CIRCLE[layer=="{name}"]')) for name in ("CUT", "MARK")}
    need(len(circles["MARK"]) == len(drawing["holes"]), "holes are missing")
    for circle, hole in zip(circles["MARK"], drawing["holes"]):
        close(circle.dxf.radius * 2 * scale, hole["body_diameter_mm"], "mm", f"hole {hole['id']}")
        for axis in (0, 1):
            close(circle.dxf.center[axis] * scale, hole["centre"][axis], "mm", f"middle of hole {hole['id']}")
    cut = [h for h in drawing["holes"] if h["cut_diameter_mm"] is not None]
    slots = [h for h in cut if h["slot"] is not None and h["slot"]["extra_mm"] > 0]
    need(len(circles["CUT"]) == len(cut) - len(slots), "holes to cut are missing")
    for found, hole in zip(lines["CUT"][1 if drawing["cut"] else 0:], slots):
        d, extra = hole["cut_diameter_mm"], hole["slot"]["extra_mm"]
        close(sizes(found)[0] * scale, math.pi * d + 2 * extra, "mm", f"slot {hole['id']}")
    reference = list(space.query('LINE[layer=="REF"]'))
    need(len(reference) == 1, "the line of 100 mm is missing")
    close(reference[0].dxf.start.distance(reference[0].dxf.end) * scale, 100.0, "mm", "line of 100 mm")
    words = [t.dxf.text for t in space.query("TEXT")]
    need(any(drawing["part_name"] in w and drawing["side"] in w for w in words), f"the label says {words}")
    return len(space)


def drawn(drawings):
    """Every drawing with something to cut or mark has a file."""
    return [[d] for d in drawings if d["cut"] is not None or d["mark"] is not None]


def read(folder, drawings):
    path = named_file(folder, drawings[0], f", {drawings[0]['side']}.dxf")
    return f"{path.name}: {compare(path, drawings[0])} entities, as the study says"


if __name__ == "__main__":
    main(__doc__, "DXF", drawn, read, [ezdxf.DXFError])
