"""A DXF file opened with ezdxf: version, audit, unit and layers are as they must be."""

import ezdxf

from handed_over import need


def opened(path, layers):
    """The model space, and millimetres to a unit of the file."""
    document = ezdxf.readfile(path)
    need(document.dxfversion == "AC1015", f"version {document.dxfversion}")
    audit = document.audit()
    need(not audit.errors, f"audit: {[e.message for e in audit.errors]}")
    need(not audit.fixes, f"audit had to mend: {[e.message for e in audit.fixes]}")
    unit = (document.header["$INSUNITS"], document.header["$MEASUREMENT"])
    need(unit in ((4, 1), (1, 0)), f"unit {unit}")
    scale = 1.0 if unit[0] == 4 else 25.4
    for layer in layers:
        need(layer in document.layers, f"layer {layer} is missing")
    return document.modelspace(), scale
