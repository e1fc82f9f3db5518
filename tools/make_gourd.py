"""Makes the demonstration object: a dried gourd with two bellies and a stem bent down over its shoulder.

Nothing was scanned. The surface is the zero level of the function below; the same gourd comes out each time.

Run: .venv/bin/python tools/make_gourd.py [file.stl]
"""

from __future__ import annotations

import sys
from itertools import pairwise
from pathlib import Path

import fast_simplification
import numpy as np
from numpy.typing import NDArray
from skimage.measure import marching_cubes

Field = NDArray[np.float64]

DEMO = Path(__file__).resolve().parents[1] / "src" / "claybed" / "assets" / "demo" / "gourd.stl"
HEIGHT_MM = 180.0
TRIANGLES = 42_000
GRID_MM = 1.0
EVENING_PASSES = 8
LOW_MM = (-66.0, -66.0, -4.0)
HIGH_MM = (66.0, 66.0, 186.0)

# Middle, half-axes (mm): the lower and the upper belly, neither round nor in line with the other.
BELLIES = (((0.0, 0.0, 51.0), (57.0, 53.5, 49.0)), ((4.0, -2.5, 122.0), (37.5, 35.5, 34.0)))
WAIST_BLEND_MM = 18.0

# Middle line of the stem: turn about the gourd's axis (degrees), distance from it, height and radius (mm).
STEM = (
    (0.0, 0.0, 148.0, 10.5),
    (0.0, 2.0, 160.5, 9.0),
    (2.0, 10.0, 159.5, 7.8),
    (4.0, 20.0, 153.5, 6.6),
    (6.0, 29.0, 145.5, 5.7),
    (8.0, 36.0, 138.5, 5.1),
    (10.0, 41.0, 131.0, 4.6),
    (12.0, 44.3, 123.0, 4.3),
    (14.0, 45.8, 115.0, 4.2),
    (16.0, 45.3, 107.5, 4.1),
    (18.0, 43.0, 101.0, 4.1),
)
STEM_MIDDLE_MM = (4.0, -2.5)
STEM_BLEND_MM = 6.0

RIBS = 5
RIB_MM = 1.6
# Direction from the belly's middle (degrees round, degrees up), depth, half-width (mm), belly.
DENTS = (
    (280.0, -10.0, 2.4, 14.0, 0),
    (110.0, 8.0, 2.2, 14.0, 0),
    (240.0, 4.0, 1.8, 11.0, 1),
)
# Clefts down a belly: turn (degrees), depth and half-width (mm), belly.
CLEFTS = (
    (10.0, 14.5, 5.2, 0),
    (190.0, 14.5, 5.2, 0),
    (190.0, 8.0, 4.5, 1),
)
WAVES = 14
WAVE_MM = 0.55
SHORTEST_WAVE_MM = 34.0


def blended(a: Field, b: Field, width_mm: float) -> Field:
    """The smaller of two fields, rounded over where they differ by less than `width_mm`."""
    h = np.clip(0.5 + 0.5 * (b - a) / width_mm, 0.0, 1.0)
    return b + (a - b) * h - width_mm * h * (1.0 - h)


def belly(p: Field, number: int) -> Field:
    """Distance to a belly, about true near its surface; `p` (3, ...) mm."""
    middle, half = (np.array(v).reshape(3, *[1] * (p.ndim - 1)) for v in BELLIES[number])
    q = (p - middle) / half
    near = np.sqrt((q**2).sum(axis=0))
    steep = np.sqrt(((q / half) ** 2).sum(axis=0))
    return np.asarray(near * (near - 1.0) / np.maximum(steep, 1e-9))


def stem(p: Field) -> Field:
    """Distance to the stem: a chain of short round rods along a smooth line through STEM."""
    knots = np.array(STEM)
    turn = np.radians(knots[:, 0])
    points = np.column_stack(
        [
            STEM_MIDDLE_MM[0] + knots[:, 1] * np.cos(turn),
            STEM_MIDDLE_MM[1] + knots[:, 1] * np.sin(turn),
            knots[:, 2],
            knots[:, 3],
        ]
    )
    line = smooth_line(points, 6)
    out = np.full(p.shape[1:], np.inf)
    for a, b in pairwise(line):
        along = b[:3] - a[:3]
        rest = p - a[:3].reshape(3, *[1] * (p.ndim - 1))
        t = np.clip(np.tensordot(along, rest, 1) / (along @ along), 0.0, 1.0)
        gap = np.sqrt(((rest - np.multiply.outer(along, t)) ** 2).sum(axis=0))
        out = np.minimum(out, gap - (a[3] + (b[3] - a[3]) * t))
    return out


def smooth_line(points: Field, steps: int) -> Field:
    """Points (k, d) joined by cubics that pass through them with the slope between their neighbours."""
    slope = np.gradient(points, axis=0)
    t = np.linspace(0.0, 1.0, steps, endpoint=False).reshape(-1, 1)
    h = (2 * t**3 - 3 * t**2 + 1, t**3 - 2 * t**2 + t, -2 * t**3 + 3 * t**2, t**3 - t**2)
    parts = [
        h[0] * points[k] + h[1] * slope[k] + h[2] * points[k + 1] + h[3] * slope[k + 1]
        for k in range(len(points) - 1)
    ]
    return np.concatenate([*parts, points[-1:]])


def unevenness(p: Field) -> Field:
    """What time and drying did to the skin, in mm outward: ribs, dents and slow waves."""
    out = np.zeros(p.shape[1:])
    for number, (middle, half) in enumerate(BELLIES):
        q = p - np.array(middle).reshape(3, *[1] * (p.ndim - 1))
        here = np.exp(-((q[2] / (0.62 * half[2])) ** 2))
        out += RIB_MM * (1.0 - 0.35 * number) * here * np.cos(RIBS * np.arctan2(q[1], q[0]) + 0.7 * number)
    for turn_deg, rise_deg, depth_mm, wide_mm, number in DENTS:
        middle, half = BELLIES[number]
        turn, rise = np.radians(turn_deg), np.radians(rise_deg)
        direction = np.array([np.cos(rise) * np.cos(turn), np.cos(rise) * np.sin(turn), np.sin(rise)])
        spot = np.array(middle) + np.array(half) * direction
        away = ((p - spot.reshape(3, *[1] * (p.ndim - 1))) ** 2).sum(axis=0)
        out -= depth_mm * np.exp(-away / (2.0 * wide_mm**2))
    for turn_deg, depth_mm, wide_mm, number in CLEFTS:
        middle, half = BELLIES[number]
        q = p - np.array(middle).reshape(3, *[1] * (p.ndim - 1))
        turn = np.radians(turn_deg)
        beside = q[1] * np.cos(turn) - q[0] * np.sin(turn)
        outward = q[0] * np.cos(turn) + q[1] * np.sin(turn)
        front = 1.0 / (1.0 + np.exp(-(outward - 12.0) / 3.0))
        along = np.exp(-((q[2] / (0.7 * half[2])) ** 4))
        out -= depth_mm * front * along * np.exp(-((beside / wide_mm) ** 2) / 2.0)
    random = np.random.default_rng(1)
    for _ in range(WAVES):
        height, turn, length, phase = random.random(4)
        up = 2.0 * height - 1.0
        flat = np.sqrt(1.0 - up**2)
        wave = np.array([flat * np.cos(2 * np.pi * turn), flat * np.sin(2 * np.pi * turn), up])
        wave *= 2.0 * np.pi / (SHORTEST_WAVE_MM * (1.0 + 1.5 * length))
        out += WAVE_MM / np.sqrt(WAVES) * np.sin(np.tensordot(wave, p, 1) + 2 * np.pi * phase)
    return out


def gourd(p: Field) -> Field:
    """The field whose zero level is the gourd; `p` (3, ...) mm, negative inside."""
    body = blended(belly(p, 0), belly(p, 1), WAIST_BLEND_MM) - unevenness(p)
    return blended(body, stem(p), STEM_BLEND_MM)


def evened(vertices: Field, faces: NDArray[np.int64]) -> Field:
    """Vertices spread evenly: each moved to the middle of its neighbours, then back onto the surface."""
    edges = np.unique(np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1), axis=0)
    ends = np.concatenate([edges, edges[:, ::-1]])
    count = np.bincount(ends[:, 0], minlength=len(vertices))
    for _ in range(EVENING_PASSES):
        total = np.stack([np.bincount(ends[:, 0], vertices[ends[:, 1], k]) for k in range(3)], axis=1)
        vertices = 0.5 * (vertices + total / count[:, None])
        for _ in range(2):
            vertices = vertices - step_to_surface(vertices)
    return vertices


def step_to_surface(vertices: Field) -> Field:
    """One step of Newton's method from vertices (n, 3) to the zero level, (n, 3) mm."""
    reach = 0.01
    value = gourd(vertices.T)
    slope = np.stack(
        [(gourd((vertices + d).T) - gourd((vertices - d).T)) / (2.0 * reach) for d in reach * np.eye(3)]
    ).T
    return np.asarray(value[:, None] * slope / np.maximum((slope**2).sum(axis=1), 1e-6)[:, None])


def surface() -> tuple[Field, NDArray[np.int64]]:
    """Vertices (n, 3) mm, standing on z = 0, HEIGHT_MM tall, and outward faces (m, 3)."""
    axes = [np.arange(lo, hi + GRID_MM / 2, GRID_MM) for lo, hi in zip(LOW_MM, HIGH_MM, strict=True)]
    values = np.stack(
        [gourd(np.stack(np.meshgrid([x], axes[1], axes[2], indexing="ij")))[0] for x in axes[0]]
    )
    fine, faces, _, _ = marching_cubes(values, 0.0, spacing=(GRID_MM,) * 3, gradient_direction="descent")
    vertices, faces = fast_simplification.simplify(
        np.asarray(fine, np.float64), np.asarray(faces, np.int32), target_count=TRIANGLES, agg=5
    )
    vertices = evened(np.asarray(vertices, np.float64) + np.array(LOW_MM), np.asarray(faces, np.int64))
    vertices[:, 2] -= vertices[:, 2].min()
    vertices *= HEIGHT_MM / vertices[:, 2].max()
    return vertices, np.asarray(faces, np.int64)


def write_stl(path: Path, vertices: Field, faces: NDArray[np.int64]) -> None:
    """Write a binary STL in mm, with each normal worked out from the corners as they are stored."""
    corners = vertices.astype("<f4")[faces]
    exact = corners.astype(np.float64)
    normal = np.cross(exact[:, 1] - exact[:, 0], exact[:, 2] - exact[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    record = np.zeros(len(faces), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    record["normal"], record["corners"] = normal, corners
    head = b"claybed demonstration gourd, millimetres, CC0".ljust(80, b" ")
    path.write_bytes(head + np.uint32(len(faces)).tobytes() + record.tobytes())


if __name__ == "__main__":
    write_stl(Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO, *surface())
