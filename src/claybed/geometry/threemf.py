"""A lattice solid as a 3MF package: millimetres, one object, every coordinate written in full."""

from __future__ import annotations

import io
import zipfile
from xml.sax.saxutils import escape

from claybed.geometry.lattice import lattice_mm
from claybed.geometry.slab import LatticeSolid

_MODEL = "3D/3dmodel.model"
_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
    "</Types>"
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    f'<Relationship Target="/{_MODEL}" Id="model" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
_OPENING = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<model unit="millimeter" xml:lang="en" '
    'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
)
# The same bytes for the same solid: an archive's dates begin here.
_DATE = (1980, 1, 1, 0, 0, 0)
_COMPRESSION = 3


def threemf_bytes(solid: LatticeSolid, *, title: str) -> bytes:
    """A solid as the bytes of a 3MF file in millimetres, named `title`; coordinates are exact decimals.

    Source: 3MF core specification 1.3.
    """
    parts = {"[Content_Types].xml": _TYPES, "_rels/.rels": _RELATIONS, _MODEL: _model(solid, title)}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=_COMPRESSION) as archive:
        for name, text in parts.items():
            entry = zipfile.ZipInfo(name, _DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, text.encode("utf-8"), compresslevel=_COMPRESSION)
    return out.getvalue()


def _model(solid: LatticeSolid, title: str) -> str:
    points = lattice_mm(solid.points).tolist()
    faces = solid.faces.tolist()
    vertices = "".join([f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>' for x, y, z in points])
    triangles = "".join([f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces])
    name = escape(title, {'"': "&quot;"})
    return (
        f'{_OPENING}<metadata name="Title">{escape(title)}</metadata>'
        '<metadata name="Application">claybed</metadata>'
        f'<resources><object id="1" type="model" name="{name}"><mesh><vertices>{vertices}</vertices>'
        f"<triangles>{triangles}</triangles></mesh></object></resources>"
        '<build><item objectid="1"/></build></model>'
    )
