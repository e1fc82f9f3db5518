"""A cast map of a plan folder: wall by wall, cast after cast, as pictures, surface files and figures."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from claybed.actions.plan_file import read_plan
from claybed.actions.plan_folders import refuse_hump
from claybed.actions.plan_solids import named_files, solid_of
from claybed.errors import CannotError, InputError
from claybed.flow.cast_figures import figures_of
from claybed.flow.cast_map import CastMap, map_casts
from claybed.flow.cast_map_document import map_document
from claybed.geometry.fields import ply_bytes, vtu_bytes
from claybed.geometry.mesh import Bytes, Floats, Mesh
from claybed.records.assembly import BLOCK_FRAME
from claybed.records.soaked import MapAsk
from claybed.sheets.pictures import as_png
from claybed.sheets.wall_map import wall_picture
from claybed.soaking.reading import corner_areas, spread_over
from claybed.units import MM_PER_IN, say_time

Progress = Callable[[str, float], None]
MOST_CASTS: Final = 12
MOST_MINUTES: Final = 1440.0
# A face on the block's outside lies in it to the last step of the lattice; edited files to a hundredth.
_ON_OUTSIDE_MM: Final = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class ClosedMold:
    """A plan's mold read back from its folder, in the block's frame: `on_outside` (model faces,) uint8."""

    document: dict[str, Any]
    pieces: list[Mesh]
    model: Mesh
    on_outside: Bytes


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Map the casts of the plan folder payload["plan"] and write them into the empty folder payload["out"].

    payload["ask"] is a MapAsk, payload["units"] metric or us, for pictures and sentences. Writes
    pictures/cast-1.png and so on, wall.ply, wall.vtu and cast-map.json, and returns what the last one holds.
    Raises InputError for a folder that is no plan or
    an ask out of range, CannotError for a hump, or a mold without an opening.
    """
    folder, out, ask = Path(payload["plan"]), Path(payload["out"]), payload["ask"]
    check_ask(ask)
    progress("reading", 0.0)
    mold = read_mold(folder)
    refuse_hump(mold.document, folder)
    brief = mold.document["made"]["brief"]
    figures = figures_of(
        ask,
        consistency_per_100=float(brief["consistency"]),
        ware_wall_mm=float(brief["ware_wall_mm"]),
        face_mm=float(max(mold.document["mold"]["outer_mm"])),
    )
    if figures.wet_share >= 0.98:
        raise CannotError(
            "the plaster holds all the water it can.", where="--moisture", remedy="Dry the mold first."
        )
    gate_at_mm, bore_mm = gate_of(mold.document)
    done = map_casts(
        mold.pieces,
        mold.model,
        mold.on_outside,
        figures,
        gate_at_mm=gate_at_mm,
        bore_mm=bore_mm,
        parting_mm2=parting_mm2(mold),
        cell_mm=ask.cell_mm,
        thicker_mm=ask.thicker_mm,
        progress=progress,
    )
    progress("writing", 0.0)
    files = {"ply": "wall.ply", "vtu": "wall.vtu", "figures": "cast-map.json"}
    (out / "pictures").mkdir()
    for number in range(1, len(done.casts) + 1):
        files[f"cast_{number}"] = f"pictures/cast-{number}.png"
    us = payload.get("units") == "us"
    document = map_document(done, str(mold.document["object"]["name"]), files, us=us)
    _write_pictures(done, document, out, us)
    _write_surfaces(done, str(document["name"]), out)
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)
    (out / files["figures"]).write_text(text + "\n", encoding="utf-8")
    progress("writing", 1.0)
    return document


def check_ask(ask: MapAsk) -> None:
    """Raise InputError for what cannot be cast: no casts, no time, water that is not from 0 to 1."""

    def need(good: bool, what: str, where: str, remedy: str) -> None:
        if not good:
            raise InputError(what, where=where, remedy=remedy)

    need(
        1 <= ask.casts <= MOST_CASTS,
        f"{ask.casts} is not possible here.",
        "--casts",
        f"Use 1 to {MOST_CASTS}.",
    )
    rate = None if ask.rate is None else ask.rate.value
    for value, where in ((rate, "--k"), (ask.wall_mm, "--wall"), (ask.cell_mm, "--cell")):
        need(
            value is None or 0.0 < value < 1e3, f"{value} is out of range.", where, "Leave it out to choose."
        )
    minutes = ask.minutes_min
    need(
        minutes is None or 0.0 < minutes <= MOST_MINUTES,
        f"{minutes} minutes is out of range.",
        "--minutes",
        "Use more than 0 and at most a day.",
    )
    need(ask.cell_mm is None or ask.cell_mm >= 0.4, f"{ask.cell_mm} mm is too fine.", "--cell", "Use 1.5 mm.")
    need(
        0.0 <= ask.moisture_fraction < 1.0,
        "the plaster's water is out of range.",
        "--moisture",
        "Use 0 to 40%.",
    )
    need(0.0 <= ask.thicker_mm <= 50.0, "so much plaster is out of range.", "--thicker", "Use 0 to 50 mm.")
    for value, where in ((ask.release_min, "--release"), (ask.rest_min, "--rest")):
        need(
            value is None or 0.0 <= value <= 10080.0,
            f"{value} min is out of range.",
            where,
            "Use up to a week.",
        )


def read_mold(folder: Path) -> ClosedMold:
    """The closed mold of a plan folder. Raises InputError when the folder or a solid in it cannot be read."""
    document = read_plan(folder)
    meshes: dict[str, Mesh] = {}
    for name, path in named_files(document, folder).items():
        try:
            meshes[name] = solid_of(path)[0].mesh(BLOCK_FRAME)
        except (OSError, ValueError) as reason:
            raise InputError(
                f"cannot be read ({reason}).", where=str(path), remedy="Put the file back, or plan again."
            ) from reason
    model = meshes.pop("model")
    pieces = list(meshes.values())
    return ClosedMold(document, pieces, model, outside_faces(pieces, model))


def outside_faces(pieces: list[Mesh], model: Mesh) -> Bytes:
    """Which faces (m,) uint8 of a model lie in the block's outside: flat ends, or the sides of its plan.

    The block is upright and convex in plan, so its outside is the hull of its pieces' plan between the least
    and the greatest height.
    """
    from scipy.spatial import ConvexHull

    points = np.concatenate([piece.vertices_mm for piece in pieces])
    corners = model.corners_mm
    found = np.zeros(len(corners), bool)
    for height in (points[:, 2].min(), points[:, 2].max()):
        found |= (np.abs(corners[:, :, 2] - height) < _ON_OUTSIDE_MM).all(axis=1)
    for a, b, c in ConvexHull(points[:, :2]).equations:
        found |= (np.abs(corners[:, :, 0] * a + corners[:, :, 1] * b + c) < _ON_OUTSIDE_MM).all(axis=1)
    return found.astype(np.uint8)


def parting_mm2(mold: ClosedMold) -> float:
    """What the pieces of a mold touch with, the faces of all of them together, mm²."""
    total = sum(piece.area_mm2 for piece in mold.pieces)
    for piece in mold.pieces:
        corners = piece.corners_mm[outside_faces(mold.pieces, piece).astype(bool)]
        cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        total -= float(np.linalg.norm(cross, axis=1).sum()) / 2.0
    corners = mold.model.corners_mm[~mold.on_outside.astype(bool)]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return max(total - float(np.linalg.norm(cross, axis=1).sum()) / 2.0, 0.0)


def gate_of(document: Mapping[str, Any]) -> tuple[Floats | None, float | None]:
    """Where the gate meets the object, mm, and the width of a round bore; (None, None) without a gate."""
    gate = document["mold"].get("gate") or {}
    if gate.get("kind") not in ("bore", "mouth") or not gate.get("at_mm"):
        return None, None
    bore = gate.get("bore_mm") if gate["kind"] == "bore" else None
    return np.array(gate["at_mm"], dtype=np.float64), None if bore is None else float(bore)


def up_of(mold: ClosedMold) -> Floats | None:
    """The unit direction (3,) in which a mold opens, by the model's faces outside; None if shut."""
    corners = mold.model.corners_mm[mold.on_outside.astype(bool)]
    out = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0)
    length = float(np.linalg.norm(out))
    return None if length < 1e-6 else out / length


def _write_pictures(done: CastMap, document: Mapping[str, Any], out: Path, us: bool) -> None:
    unit, size_mm, places = ("in", MM_PER_IN, 3) if us else ("mm", 1.0, 1)
    area = corner_areas(done.grid)
    spreads = [spread_over(done.grid, wall, area, done.ware) for wall in done.wall_mm]
    limits = (min(s.thin_mm for s in spreads) / size_mm, max(s.thick_mm for s in spreads) / size_mm)
    minutes = done.figures.minutes_min
    for number, (wall, spread) in enumerate(zip(done.wall_mm, spreads, strict=True), 1):
        picture = wall_picture(
            done.grid.wall,
            np.where(done.ware, wall / size_mm, np.nan),
            up=done.grid.up,
            title=f"{document['name']}, cast {number}: wall after {say_time(minutes)}, {unit}",
            unit=unit,
            limits=limits,
            marks=(
                (f"{spread.least_mm / size_mm:.{places}f}", np.array(spread.least_at_mm)),
                (f"{spread.most_mm / size_mm:.{places}f}", np.array(spread.most_at_mm)),
            ),
        )
        (out / "pictures" / f"cast-{number}.png").write_bytes(as_png(picture))


def _write_surfaces(done: CastMap, name: str, out: Path) -> None:
    values: dict[str, Floats] = {"ware": done.ware.astype(np.float64)}
    for number, (wall, pull) in enumerate(zip(done.wall_mm, done.pull_share, strict=True), 1):
        values[f"wall_mm_{number}"], values[f"pull_share_{number}"] = wall, pull
    (out / "wall.ply").write_bytes(
        ply_bytes(done.grid.wall, values, comment=f"claybed, millimetres: {name}, wall of each cast")
    )
    (out / "wall.vtu").write_bytes(vtu_bytes(done.grid.wall, values))
