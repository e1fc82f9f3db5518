"""Stations round the seam: how high it runs, how high the bed stands out to the form, how far a pencil may
stray.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.nearness import distances_mm
from claybed.geometry.slicing import cut_segments, in_plane, lowest
from claybed.materials import shelf
from claybed.posing.fillers import bed_loops, on_fillers
from claybed.records.assembly import BLOCK_FRAME, Assembly

SAMPLE_MM = 1.0
# A sample of the seam on the gate lies on one of its faces, or on clay beside it that is off the object.
ON_GATE_MM = 0.02
OFF_OBJECT_MM = 1.5
GATE_MM = 3.0
TANGENT_MM = 2.0
# A height within this of the line's own highest or lowest tells it.
TOLD_MM = 0.5
# A gap in a section of the bed wider than this is the object, not the edge of a triangle.
GAP_MM = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class SeamLine:
    """A seam line on the object, resampled: `points` (n, 3) mm in the block's frame, `along_mm` (n,);
    `closed` when its end meets its beginning.
    """

    points: Floats
    along_mm: Floats
    closed: bool

    @property
    def length_mm(self) -> float:
        """Its length, mm."""
        return float(self.along_mm[-1])


@dataclass(frozen=True, slots=True, eq=False)
class Solids:
    """What stations are read from: the model's corners and faces and those of the bed's surface, mm."""

    model_points: Floats
    model_faces: NDArray[np.int32]
    bed_points: Floats
    bed_faces: NDArray[np.int32]
    key_faces: NDArray[np.int32]

    @staticmethod
    def of(assembly: Assembly) -> Solids:
        """The model without its gate, and the first piece's parting surface on the bed, keys apart."""
        model, first = assembly.model, assembly.pieces[0].solid
        points = lattice_mm(first.points)
        flat = first.faces[first.origin == int(Origin.PARTING)]
        keyed = first.faces[first.origin == int(Origin.KEY)]
        return Solids(
            lattice_mm(model.points),
            model.faces[model.origin != int(Origin.GATE)],
            points,
            flat[~on_fillers(points[flat].mean(axis=1), assembly)],
            keyed[~on_fillers(points[keyed].mean(axis=1), assembly)],
        )


def seam_lines(assembly: Assembly, placed: Mesh) -> tuple[SeamLine, ...]:
    """The seam that the bed comes up to, as resampled lines on the object, the longest first; where it runs
    along the gate, and where a filler meets the object, it is left out. `placed` is the object in the
    block's frame.
    """
    model = assembly.model
    gate_faces = model.faces[model.origin == int(Origin.GATE)]
    gate = Mesh.make(lattice_mm(model.points), gate_faces, frame=BLOCK_FRAME)
    lines = []
    for loop in bed_loops(assembly):
        closed = bool(np.array_equal(loop[0], loop[-1]))
        dense = _resampled(loop, max(2, round(_length(loop) / SAMPLE_MM)) + 1)
        if not len(gate_faces):
            lines.append(_line(dense, closed))
            continue
        on_gate = distances_mm(dense, gate) < ON_GATE_MM
        beyond = (dense - np.array(assembly.gate.at_mm)) @ np.array(assembly.gate.out) > 0.0
        if beyond.any():
            off = distances_mm(dense[beyond], placed) > OFF_OBJECT_MM
            on_gate[np.flatnonzero(beyond)[off]] = True
        if not on_gate.any():
            lines.append(_line(dense, closed))
            continue
        if closed:
            # Begin on the gate, so that no run is cut in two where the loop happens to begin.
            first = int(np.argmax(on_gate[:-1]))
            dense = np.concatenate([dense[first:-1], dense[: first + 1]])
            on_gate = np.concatenate([on_gate[first:-1], on_gate[: first + 1]])
        edges = np.flatnonzero(np.diff(np.r_[True, on_gate, True].astype(np.int8)))
        lines += [_line(dense[a:b], False) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]
    return tuple(sorted(lines, key=lambda line: -line.length_mm))


def places_on(line: SeamLine) -> Floats:
    """Where the stations of a line stand, mm along it: evenly, closer where the seam bends.

    Source: materials/bench (station...).
    """
    fewest, at_most = int(_bench("stations_least_count")), int(_bench("stations_most_count"))
    most = max(fewest, min(at_most, int(line.length_mm / _bench("stations_nearest_mm"))))
    count = min(most, max(fewest, round(line.length_mm / _bench("stations_apart_mm"))))
    while count < most and _bend(line, count) > _bench("station_bend_mm"):
        count = min(most, count + max(2, count // 3))
    if line.closed:
        return _to_ends(line, np.linspace(0.0, line.length_mm, count + 1)[:-1])
    # An open line ends at the gate, where the surface is no longer the object's.
    in_mm = min(GATE_MM, line.length_mm / 4.0)
    return _to_ends(line, np.linspace(in_mm, line.length_mm - in_mm, count))


def _bench(name: str) -> float:
    return shelf.value("bench", name).value


def _to_ends(line: SeamLine, places: Floats) -> Floats:
    """The places with those nearest to the highest and the lowest point of a line that climbs moved there."""
    heights = line.points[:, 2]
    told = np.interp(places, line.along_mm, heights)
    moved = places.copy()
    low_mm, high_mm = float(heights.min()), float(heights.max())
    for at_end, is_told in (
        (int(np.argmax(heights)), high_mm - float(told.max()) < TOLD_MM),
        (int(np.argmin(heights)), float(told.min()) - low_mm < TOLD_MM),
    ):
        along_mm = float(line.along_mm[at_end])
        inside = places[0] < along_mm < places[-1]
        if is_told or not inside:
            continue
        nearest = 1 + int(np.argmin(np.abs(places[1:-1] - along_mm)))
        if moved[nearest] == places[nearest]:
            moved[nearest] = along_mm
    return np.sort(moved)


def at(line: SeamLine, along_mm: float) -> tuple[Floats, Floats]:
    """Point (3,) mm of a line at a distance along it, and the unit plan direction of the seam there (2,)."""
    point = _point(line, along_mm)
    back, on = along_mm - TANGENT_MM, along_mm + TANGENT_MM
    if line.closed:
        ends = _point(line, back % line.length_mm), _point(line, on % line.length_mm)
    else:
        ends = _point(line, max(back, 0.0)), _point(line, min(on, line.length_mm))
    step = (ends[1] - ends[0])[:2]
    length = float(np.linalg.norm(step))
    direction = step / length if length > 1e-9 else np.array([1.0, 0.0])
    return point, direction


def bed_profile(solids: Solids, point: Floats, seam_direction: Floats) -> tuple[Floats, Floats]:
    """The bed straight out from a seam point: the outward unit direction (2,) and the profile (k, 2), run
    from the seam and height in the block's frame, mm, keys bridged by a straight line.

    The profile ends where the bed meets the form or the object again.
    """
    across = np.array([seam_direction[1], -seam_direction[0]])
    flat = _cut(solids.bed_points, solids.bed_faces, point, across)
    beside = flat[(np.abs(flat[:, :, 0]) < TANGENT_MM).any(axis=1)].mean(axis=1)[:, 0]
    if len(beside) and float(np.median(beside)) < 0.0:
        across = -across
        flat = flat * np.array([-1.0, 1.0])
    keyed = _cut(solids.bed_points, solids.key_faces, point, across)
    return across, _outward(flat, keyed, point[2])


def stray_band(solids: Solids, point: Floats, out: Floats, lock_mm: float) -> tuple[float, float]:
    """How far up and down the seam may stray at a seam point before `lock_mm` locks sideways, mm.

    Read off the model's own section square to the seam: the heights of its upper and lower surface `lock_mm`
    inside its outline. On a round of radius R this is sqrt(R^2 - (R - lock)^2) both ways.
    """
    flat = _cut(solids.model_points, solids.model_faces, point, out)
    inside = np.array([-lock_mm])
    over, under = -lowest(flat * np.array([1.0, -1.0]), inside)[0], lowest(flat, inside)[0]
    if not np.isfinite(over):
        return 0.0, 0.0
    return max(float(over - point[2]), 0.0), max(float(point[2] - under), 0.0)


def _cut(points: Floats, faces: NDArray[np.int32], point: Floats, along: Floats) -> Floats:
    normal = np.array([-along[1], along[0], 0.0])
    segments = cut_segments(points, faces, point, normal)
    return in_plane(segments, np.array([point[0], point[1], 0.0]), np.array([along[0], along[1], 0.0]))


def _outward(flat: Floats, keyed: Floats, seam_z: float) -> Floats:
    """The chain of bed segments from run 0 outwards, over keys, to the first gap."""
    reach = [(s, False) for s in flat] + [(s, True) for s in keyed]
    reach = [(s if s[0, 0] <= s[1, 0] else s[::-1], key) for s, key in reach]
    reach = sorted((r for r in reach if r[0][1, 0] > 0.0), key=lambda r: float(r[0][0, 0]))
    chain: list[tuple[float, float]] = [(0.0, float(seam_z))]
    end = 0.0
    for segment, key in reach:
        if segment[0, 0] > end + GAP_MM:
            break
        end = max(end, float(segment[1, 0]))
        if not key:
            chain += [(float(u), float(z)) for u, z in segment if u > chain[-1][0] + 1e-6]
    return np.array(chain)


def _bend(line: SeamLine, count: int) -> float:
    """How far the seam's height is from straight lines between `count` even stations, mm."""
    stops = np.linspace(0.0, line.length_mm, count + 1)
    heights = np.interp(stops, line.along_mm, line.points[:, 2])
    return float(np.abs(np.interp(line.along_mm, stops, heights) - line.points[:, 2]).max())


def _point(line: SeamLine, along_mm: float) -> Floats:
    return np.array([np.interp(along_mm, line.along_mm, line.points[:, k]) for k in range(3)])


def _length(points: Floats) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def _line(points: Floats, closed: bool) -> SeamLine:
    along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))]
    return SeamLine(points, along, closed)


def _resampled(loop: Floats, count: int) -> Floats:
    """Points along a polyline, evenly, its own corners included."""
    along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(loop, axis=0), axis=1))]
    stops = np.union1d(along, np.linspace(0.0, along[-1], count))
    return np.stack([np.interp(stops, along, loop[:, k]) for k in range(3)], axis=1)
