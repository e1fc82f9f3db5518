"""Outlines out of SVG and DXF drawings, as polylines in millimetres."""

from __future__ import annotations

import io
import math
import re
import warnings
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from claybed.errors import ClaybedError, InputError
from claybed.intake.soup import Points

LARGEST_BYTES: Final = 20_000_000
MOST_POINTS: Final = 200_000
CHORD_MM: Final = 0.02
GAP_SHARE: Final = 1e-3  # of the drawing's size, within which two ends are one point
_PX_PER_IN: Final = 96.0
_STEPS: Final = 48
_MM_PER_INSUNITS: Final = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 13: 0.001}
_PHYSICAL: Final = re.compile(r"^\s*[\d.]+\s*(mm|cm|in|pt|pc)\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One line of a drawing: `points` (n, 2), y up, without a repeated end; `closed` when it runs back."""

    points: Points
    closed: bool


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """All lines of a drawing. `mm_per_unit` of its points, None when the drawing does not say."""

    lines: tuple[Line, ...]
    mm_per_unit: float | None
    format_name: str


def read_drawing(data: bytes, name: str) -> Drawing:
    """The lines of an SVG or DXF drawing called `name`, told apart by what is in it.

    Ends that meet are joined. Raises InputError for other files, damaged ones, and drawings without lines.
    """
    if len(data) > LARGEST_BYTES:
        raise InputError(
            f"is {len(data) / 1e6:.0f} MB; an outline takes far less.",
            where=name,
            remedy="Keep only the outline.",
        )
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    if head.startswith(b"<") and b"<svg" in data[:65_536].lower():
        reader, kind = _svg, "SVG"
    elif b"SECTION" in head or head.startswith(b"AutoCAD Binary DXF"):
        reader, kind = _dxf, "DXF"
    else:
        raise InputError("is neither SVG nor DXF.", where=name, remedy="Save the drawing as SVG or DXF.")
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            lines, mm_per_unit = reader(data, name)
    except (ClaybedError, MemoryError):
        raise
    except Exception as reason:  # outside parsers raise whatever their damage leads to
        detail = str(reason).splitlines()[0][:80] if str(reason) else type(reason).__name__
        raise InputError(
            f"cannot be read as {kind}: {detail}.",
            where=name,
            remedy="Save it again as plain SVG or DXF R2010.",
        ) from reason
    lines = _joined(_sound(lines, name))
    if not lines:
        raise InputError("holds no lines.", where=name, remedy="Turn text and pictures into outlines first.")
    return Drawing(tuple(lines), mm_per_unit, kind)


def _svg(data: bytes, name: str) -> tuple[list[Line], float | None]:
    import svgelements

    if b"<!ENTITY" in data:
        raise InputError(
            "defines entities, which outlines need not.", where=name, remedy="Save it as plain SVG."
        )
    tree = svgelements.SVG.parse(io.BytesIO(data), ppi=_PX_PER_IN, reify=True)
    sized = [str(tree.values.get("attributes", {}).get(key, "")) for key in ("width", "height")]
    mm_per_unit = 25.4 / _PX_PER_IN if any(_PHYSICAL.match(text) for text in sized) else None
    lines: list[Line] = []
    count = 0
    for element in tree.elements():
        if not isinstance(element, svgelements.Shape) or element.values.get("visibility") == "hidden":
            continue
        for sub in svgelements.Path(element).as_subpaths():
            line = _subpath(svgelements, svgelements.Path(sub))
            if line is not None:
                count += len(line.points)
                lines.append(line)
            if count > MOST_POINTS:
                raise _too_many(name)
    return lines, mm_per_unit


def _subpath(svgelements: Any, path: Any) -> Line | None:
    points: list[Points] = []
    closed = False
    for segment in path:
        if isinstance(segment, svgelements.Move):
            continue
        if isinstance(segment, svgelements.Close):
            closed = True
            continue
        if not points:
            points.append(np.array([[segment.start.x, segment.start.y]]))
        if isinstance(segment, svgelements.Line):
            points.append(np.array([[segment.end.x, segment.end.y]]))
        else:
            at = np.linspace(0.0, 1.0, _STEPS + 1)[1:]
            points.append(np.asarray(segment.npoint(at), np.float64).reshape(-1, 2))
    if not points:
        return None
    return Line(np.concatenate(points) * np.array([1.0, -1.0]), closed)


def _dxf(data: bytes, name: str) -> tuple[list[Line], float | None]:
    from ezdxf import path as dxf_path
    from ezdxf import recover

    document, _ = recover.read(io.BytesIO(data))
    mm_per_unit = _MM_PER_INSUNITS.get(int(document.header.get("$INSUNITS", 0)))
    # Flattening is bounded in drawing units; without a unit the sizes decide.
    chord = CHORD_MM / (mm_per_unit or 1.0)
    lines: list[Line] = []
    count = 0
    for entity in _entities(document, name):
        try:
            curve = dxf_path.make_path(entity)
        except TypeError:  # text, dimensions, pictures: no outline
            continue
        points = np.array([[p.x, p.y] for p in curve.flattening(chord)], np.float64).reshape(-1, 2)
        count += len(points)
        if count > MOST_POINTS:
            raise _too_many(name)
        if len(points) >= 2:
            lines.append(Line(points, bool(curve.is_closed)))
    return lines, mm_per_unit


def _entities(document: Any, name: str) -> list[Any]:
    """What is drawn in the model space, blocks taken apart to a few levels."""
    waiting = [(entity, 0) for entity in document.modelspace()]
    found: list[Any] = []
    while waiting:
        entity, depth = waiting.pop(0)
        if entity.dxftype() != "INSERT":
            found.append(entity)
        elif depth < 4:
            waiting += [(inner, depth + 1) for inner in entity.virtual_entities()]
        if len(found) + len(waiting) > MOST_POINTS:
            raise _too_many(name)
    return found


def _sound(lines: list[Line], name: str) -> list[Line]:
    """Lines of finite points, none of them twice in a row."""
    found = []
    for line in lines:
        points = line.points
        if not np.isfinite(points).all():
            raise InputError("has a point that is not a number.", where=name, remedy="Save it again.")
        step = np.linalg.norm(np.diff(points, axis=0), axis=1)
        size = float(np.ptp(points, axis=0).max())
        points = points[np.concatenate([[True], step > 1e-7 * max(size, 1e-9)])]
        closed = line.closed
        if len(points) > 2 and float(np.linalg.norm(points[0] - points[-1])) <= GAP_SHARE * size:
            points, closed = points[:-1], True
        if len(points) >= 2:
            found.append(Line(points, closed and len(points) >= 3))
    return found


def _joined(lines: list[Line]) -> list[Line]:
    """Open lines whose ends meet made one, as drawings of single strokes need."""
    closed = [line for line in lines if line.closed]
    loose = [line.points for line in lines if not line.closed]
    if not loose:
        return closed
    size = float(np.ptp(np.concatenate(loose), axis=0).max())
    near = GAP_SHARE * size
    loose = [points for points in loose if float(np.ptp(points, axis=0).max()) > near]
    while loose:
        chain = loose.pop()
        grown = True
        while grown:
            grown = False
            for k, other in enumerate(loose):
                for one in (other, other[::-1]):
                    if math.dist(chain[-1], one[0]) <= near:
                        chain = np.concatenate([chain, one[1:]])
                    elif math.dist(one[-1], chain[0]) <= near:
                        chain = np.concatenate([one, chain[1:]])
                    else:
                        continue
                    grown = True
                    break
                if grown:
                    loose.pop(k)
                    break
        if len(chain) > 3 and math.dist(chain[0], chain[-1]) <= near:
            closed.append(Line(chain[:-1], True))
        else:
            closed.append(Line(chain, False))
    return closed


def _too_many(name: str) -> InputError:
    return InputError(
        f"holds more than {MOST_POINTS:,} points; that is no outline.",
        where=name,
        remedy="Keep only the outline.",
    )
