"""Closed solids as one 3MF file, mm."""

import io
import zipfile
from collections.abc import Sequence

from seatwright.errors import MeshError
from seatwright.mesh import Surface

__all__ = ["encode_3mf"]

_CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"  # 3MF Core Specification 1.2, chapter 3
_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # the same solids give the same bytes


def encode_3mf(solids: Sequence[Surface]) -> bytes:
    """Return solids as a 3MF package, one object each, mm, nine significant digits.

    Raises
    ------
    MeshError
        If there is no solid.

    References
    ----------
    .. [1] 3MF Core Specification 1.2: 2.1 (package), 3.4 (model), 4.1 (mesh).
    """
    if not solids:
        raise MeshError("there is no solid to write")
    parts = [_object(number, solid) for number, solid in enumerate(solids, start=1)]
    items = "".join(f'<item objectid="{number}"/>' for number in range(1, len(solids) + 1))
    model = (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<model unit="millimeter" xml:lang="en-US" xmlns="{_CORE}">'
        f"<resources>{''.join(parts)}</resources><build>{items}</build></model>"
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in (("[Content_Types].xml", _TYPES), ("_rels/.rels", _RELATIONS), ("3D/3dmodel.model", model)):
            entry = zipfile.ZipInfo(name, _FIRST_DAY)
            entry.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(entry, text)
    return out.getvalue()


def _object(number: int, solid: Surface) -> str:
    vertices = "".join(f'<vertex x="{x:.9g}" y="{y:.9g}" z="{z:.9g}"/>' for x, y, z in solid.vertices_mm.tolist())
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in solid.faces.tolist())
    return (
        f'<object id="{number}" type="model"><mesh><vertices>{vertices}</vertices>'
        f"<triangles>{faces}</triangles></mesh></object>"
    )
