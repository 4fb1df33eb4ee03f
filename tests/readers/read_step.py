"""Reads the STEP files of a hand-over with OpenCascade and compares them with its study.json.

    python read_step.py FOLDER [STUDY_JSON]

FOLDER holds study.json and the drawings, or folders that do. Ends with status 1 when a file does not transfer, is
missing, is not in millimetres, or differs in the names of its products and curves or in their lengths.
"""

import math

from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.IFSelect import IFSelect_RetDone
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_VERTEX
from OCP.TopExp import TopExp_Explorer

from handed_over import main, named_file, need

AXIS_MM = 30.0


def named(model):
    """Names of everything in the file, by the kind of entity."""
    names = {}
    for i in range(1, model.NbEntities() + 1):
        entity = model.Value(i)
        if not hasattr(entity, "Name"):
            continue
        try:
            name = entity.Name()
        except (RuntimeError, TypeError):
            continue
        if name is not None and hasattr(name, "ToCString"):
            names.setdefault(entity.DynamicType().Name(), []).append(name.ToCString())
    return names


def wire_sizes(shape):
    """Lengths of the edges outside faces, number of faces, number of lone points."""
    explorer, lengths = TopExp_Explorer(shape, TopAbs_EDGE, TopAbs_FACE), []
    while explorer.More():
        properties = GProp_GProps()
        BRepGProp.LinearProperties_s(explorer.Current(), properties)
        lengths.append(properties.Mass())
        explorer.Next()
    counts = []
    for kind, avoid in ((TopAbs_FACE, None), (TopAbs_VERTEX, TopAbs_EDGE)):
        explorer = TopExp_Explorer(shape, kind, avoid) if avoid is not None else TopExp_Explorer(shape, kind)
        count = 0
        while explorer.More():
            count += 1
            explorer.Next()
        counts.append(count)
    return sorted(lengths), *counts


def wanted_lengths(drawing):
    lengths = [drawing["edge_length_mm"]]
    for path in (drawing["cut"], drawing["mark"]):
        for piece in path["pieces"] if path else []:
            (x0, y0), (x1, y1), bulge = piece["start"], piece["end"], piece["bulge"]
            chord = math.hypot(x1 - x0, y1 - y0)
            half = 2 * math.atan(abs(bulge))
            lengths.append(chord if half < 1e-9 else chord * half / math.sin(half))
    for hole in drawing["holes"]:
        lengths += [math.pi * hole["body_diameter_mm"], AXIS_MM]
        if hole["cut_diameter_mm"] is not None and hole["slot"] is None:
            lengths.append(math.pi * hole["cut_diameter_mm"])
    lengths += [math.dist(j["start"], j["end"]) for j in drawing["junctions"]]
    return lengths


def compare(path, drawings):
    Interface_Static.SetCVal_s("xstep.cascade.unit", "MM")
    reader = STEPControl_Reader()
    need(reader.ReadFile(str(path)) == IFSelect_RetDone, "cannot be read")
    need("SI_UNIT(.MILLI.,.METRE.)" in path.read_text(encoding="ascii").replace(" ", ""), "not in millimetres")
    names = named(reader.WS().Model())
    products = [f"{d['part_name']}, {d['side']}" for d in drawings]
    found = names.get("StepBasic_Product", [])
    need(len(found) == len(products), f"products {found}")
    for name, want in zip(found, products):
        need(name == want or not want.isascii(), f"product \"{name}\" instead of \"{want}\"")
    everything = [n for group in names.values() for n in group]
    for d in drawings:
        for want in [f"junction {j['id']}" for j in d["junctions"]] + [s["name"] for s in d["stations"]]:
            need(want in everything or not want.isascii(), f"\"{want}\" is named nowhere")
    need(reader.NbRootsForTransfer() == len(drawings), f"{reader.NbRootsForTransfer()} roots")
    total = 0
    for i, d in enumerate(drawings, 1):
        reader.ClearShapes()
        need(reader.TransferRoot(i), f"{d['side']}: does not transfer")
        lengths, faces, points = wire_sizes(reader.OneShape())
        wanted = wanted_lengths(d)
        # The edge is a curve through its points and a little longer than the chain of them.
        edge = min(lengths, key=lambda x: abs(x - wanted[0]), default=0.0)
        need(abs(edge - wanted[0]) < 1e-3 * wanted[0], f"{d['side']}: edge {edge:.3f} mm instead of {wanted[0]:.3f}")
        lengths.remove(edge)
        need(len(lengths) == len(wanted) - 1, f"{d['side']}: {len(lengths)} curves instead of {len(wanted) - 1}")
        for a, b in zip(lengths, sorted(wanted[1:])):
            need(abs(a - b) < 1e-6 + 1e-8 * b, f"{d['side']}: a curve of {a:.9f} mm instead of {b:.9f}")
        need(faces == len(d["faces"]), f"{d['side']}: {faces} faces instead of {len(d['faces'])}")
        need(points >= len({tuple(s["at"]) for s in d["stations"]}), f"{d['side']}: {points} stations")
        total += len(lengths) + 1
    return total


def parts(drawings):
    """The drawings of one comparison are in one file."""
    groups = {}
    for drawing in drawings:
        groups.setdefault(drawing["compare"], []).append(drawing)
    return list(groups.values())


def read(folder, drawings):
    path = named_file(folder, drawings[0], ".step")
    return f"{path.name}: {compare(path, drawings)} curves, as the study says"


if __name__ == "__main__":
    main(__doc__, "STEP", parts, read, [])
