"""Photographed rings and single pictures that several tests look at, rendered once."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

import numpy as np
import trimesh
from PIL import Image

from claybed.photos.camera import Camera, Lens
from tests.photos.rendering import Light, looking_at, photograph

PIECES = Path(__file__).parents[1] / "pieces" / "files"
SIZE = (1280, 960)
LENS = Lens(1250.0, 639.5 + 5.0, 479.5 - 3.0, -0.08, 0.015)
OTHER_SIZE = (1200, 960)
OTHER_LENS = Lens(1020.0, 599.5, 479.5, 0.03)


@cache
def mug() -> trimesh.Trimesh:
    """The mug with a handle, its middle on the cross."""
    mesh = trimesh.load(PIECES / "mug_handle.stl", force="mesh")
    middle = mesh.bounds.mean(axis=0)
    return trimesh.Trimesh(
        mesh.vertices - [middle[0], middle[1], mesh.bounds[0, 2]], mesh.faces, process=False
    )


@cache
def bottle() -> trimesh.Trimesh:
    """The bottle, on the cross."""
    mesh = trimesh.load(PIECES / "bottle_lip_solid.stl", force="mesh")
    return trimesh.Trimesh(mesh.vertices - [0.0, 0.0, mesh.bounds[0, 2]], mesh.faces, process=False)


def taken(mesh: trimesh.Trimesh, camera: Camera, size_px: tuple[int, int], **options: object) -> np.ndarray:
    """A picture of a mesh."""
    return photograph(np.asarray(mesh.vertices), np.asarray(mesh.faces), camera, size_px, **options)  # type: ignore[arg-type]


def as_jpeg(rgb: np.ndarray) -> bytes:
    """A picture as a camera saves it."""
    out = io.BytesIO()
    Image.fromarray(rgb).save(out, "JPEG", quality=92)
    return out.getvalue()


def ring_cameras(count: int = 11) -> list[Camera]:
    """Cameras round the mug, two of them low; the last two are another make."""
    cameras = []
    for k in range(count):
        lens = LENS if k < count - 2 else OTHER_LENS
        elevation = 9.0 if k in (3, 8) else (25.0, 33.0)[k % 2]
        away = 500.0 if lens is LENS else 430.0
        cameras.append(
            looking_at(lens, 360.0 * k / count + 5.0, elevation, away, (0.0, 0.0, 42.0), 3.0 * (k % 3))
        )
    return cameras


@cache
def ring_pictures() -> tuple[bytes, ...]:
    """The mug from all round, unevenly lit, with noise."""
    return tuple(
        as_jpeg(
            taken(
                mug(), c, SIZE if c.lens is LENS else OTHER_SIZE, light=Light(slope=0.3 * (-1) ** k, seed=k)
            )
        )
        for k, c in enumerate(ring_cameras())
    )


@cache
def small_ring() -> tuple[bytes, ...]:
    """Eight smaller pictures of the mug from all round, and one more for which it was moved."""
    size, lens = (896, 672), LENS.scaled(0.7)
    cameras = [
        looking_at(lens, 45.0 * k + 5.0, (25.0, 12.0, 33.0)[k % 3], 500.0, (0.0, 0.0, 42.0)) for k in range(8)
    ]
    moved = trimesh.Trimesh(mug().vertices + np.array([26.0, -14.0, 0.0]), mug().faces, process=False)
    one = looking_at(lens, 77.0, 27.0, 500.0, (0.0, 0.0, 42.0))
    return (*(as_jpeg(taken(mug(), camera, size)) for camera in cameras), as_jpeg(taken(moved, one, size)))


@cache
def bad_pictures() -> tuple[tuple[str, bytes], ...]:
    """Blurred; the object moved on the mat; no mat at all."""
    camera = looking_at(LENS, 77.0, 27.0, 500.0, (0.0, 0.0, 42.0))
    moved = trimesh.Trimesh(mug().vertices + np.array([26.0, -14.0, 0.0]), mug().faces, process=False)
    y, x = np.mgrid[0:960, 0:1280]
    table = np.stack([90 + 40 * np.sin(x / 9.0), 100 + 30 * np.cos(y / 7.0), 110 + 0 * x], axis=-1).astype(
        np.uint8
    )
    return (
        ("blurred.jpg", as_jpeg(taken(mug(), camera, SIZE, light=Light(blur_px=9.0)))),
        ("moved.jpg", as_jpeg(taken(moved, camera, SIZE))),
        ("table.jpg", as_jpeg(table)),
    )


def bottle_camera(azimuth_deg: float = -90.0) -> Camera:
    """A camera held upright before the bottle."""
    return looking_at(Lens(1500.0, 479.5, 639.5, -0.05), azimuth_deg, 23.0, 620.0, (0.0, 0.0, 78.0))


@cache
def bottle_picture(azimuth_deg: float = -90.0, printed_at: float = 1.0) -> bytes:
    """The bottle on the mat, from one side."""
    return as_jpeg(taken(bottle(), bottle_camera(azimuth_deg), (960, 1280), printed_at=printed_at))


def before_camera(aside_deg: float = 12.0, up_mm: float = 150.0, away_mm: float = 650.0) -> Camera:
    """A camera held upright before a mat on the wall, somewhat to one side, in the frame of the table."""
    lens = Lens(1500.0, 479.5, 639.5, -0.05)
    return looking_at(lens, -90.0 + aside_deg, np.degrees(np.arcsin(up_mm / away_mm)), away_mm, (0, 0, 120.0))


@cache
def before_picture(gap_mm: float = 0.0, aside_mm: float = 0.0) -> bytes:
    """The bottle before the upright mat, its nearest point `gap_mm` from it."""
    widest = float(np.hypot(bottle().vertices[:, 0], bottle().vertices[:, 1]).max())
    placed = trimesh.Trimesh(
        bottle().vertices + np.array([aside_mm, -gap_mm - widest, 0.0]), bottle().faces, process=False
    )
    return as_jpeg(taken(placed, before_camera(), (960, 1280), upright=True))
