"""Scoring one axis: the depth raster against collecting every hit of the same rays with a ray tracer.

Run as `python benchmarks/axis_scoring.py [--sizes 20000,82000] [--lines 512] [--repeats 5]`. Both sides
look at the same mesh along the same axes on the same grid of lines; the ray tracer is embreex by way of
trimesh, asked for all hits. Ours also sorts the hits, adds up fill, volume and undercut, and holds the
result; theirs stops at the unsorted hits. Compiling is left out on both sides. The two take turns, so that a
busy machine slows both.
"""

from __future__ import annotations

import argparse
import ctypes
import os
import platform
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from claybed.geometry.depth import Columns, DepthRaster
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Mesh

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from tests.pieces import solids  # noqa: E402

SIZES = (20_000, 82_000, 300_000, 1_000_000, 2_000_000)


def timed(call: Callable[[], object]) -> tuple[float, object]:
    """Seconds a call took, and what it gave."""
    start = time.perf_counter()
    got = call()
    return time.perf_counter() - start, got


def rays(columns: Columns) -> tuple[np.ndarray, np.ndarray]:
    """Origins and directions (n, 3) of the raster's lines, from below the object."""
    g = columns.grid
    line = np.arange(g.rows * g.columns)
    low = float(columns.z_mm.min()) - 10.0
    origins = g.object_mm(line, np.full(len(line), low))
    return origins, np.broadcast_to(g.rotation[2], origins.shape).copy()


def tracer(mesh: Mesh) -> object:
    """A ray tracer over the mesh, its tree built."""
    import trimesh
    from trimesh.ray.ray_pyembree import RayMeshIntersector

    got = RayMeshIntersector(trimesh.Trimesh(mesh.vertices_mm, mesh.faces, process=False))
    got.intersects_any(np.zeros((1, 3)), np.array([[0.0, 0.0, 1.0]]))
    return got


def copy_bandwidth() -> float:
    """Bytes per second of a large copy, reading and writing counted, best of five."""
    a = np.ones(8_000_000)
    b = np.empty_like(a)
    return 2.0 * a.nbytes / min(timed(lambda: np.copyto(b, a))[0] for _ in range(5))


def bytes_touched(mesh: Mesh, columns: Columns) -> int:
    """Bytes that must move at least once for one axis.

    Vertices twice (extent, then placing), plan and height written and read once per vertex, faces once, and
    every crossing written, read, placed, and read again with its line's place.
    """
    vertices, faces, hits = len(mesh.vertices_mm), len(mesh.faces), len(columns.z_mm)
    lines = columns.grid.rows * columns.grid.columns
    return vertices * (2 * 24 + 2 * 16) + faces * 12 + hits * (16 + 16 + 12 + 12) + lines * 4 * 4


def say(times: list[float]) -> str:
    """Least, middle and largest time in milliseconds."""
    return f"{min(times) * 1e3:8.1f} {statistics.median(times) * 1e3:8.1f} {max(times) * 1e3:8.1f}"


def compare(size: int, lines: int, repeats: int, bandwidth: float) -> None:
    """One size: first axis with everything built, then further axes, both sides in turn."""
    mesh = solids.lumpy_sphere(size)
    axes = fibonacci_axes(repeats + 1)
    grids = [DepthRaster(mesh, lines).columns(a) for a in axes]
    shots = [rays(c) for c in grids]
    ours_first, theirs_first, ours, theirs = [], [], [], []
    hits = 0
    for k in range(min(3, repeats)):
        ours_first.append(timed(lambda k=k: DepthRaster(mesh, lines).columns(axes[k]))[0])
        theirs_first.append(
            timed(lambda k=k: tracer(mesh).intersects_location(*shots[k], multiple_hits=True))[0]
        )
    raster, trace = DepthRaster(mesh, lines), tracer(mesh)
    raster.columns(axes[0])
    for k in range(1, repeats + 1):
        ours.append(timed(lambda k=k: raster.columns(axes[k]))[0])
        seconds, got = timed(lambda k=k: trace.intersects_location(*shots[k], multiple_hits=True))
        theirs.append(seconds)
        hits += len(got[0]) - len(grids[k].z_mm)
    floor = bytes_touched(mesh, grids[1]) / bandwidth
    first = statistics.median(theirs_first) / statistics.median(ours_first)
    further = statistics.median(theirs) / statistics.median(ours)
    odd = sum(c.score.odd_columns for c in grids)
    count = f"{len(mesh.faces):>9,}"
    print(f"{count} first    ours {say(ours_first)}   tracer {say(theirs_first)}   x {first:6.1f}")
    print(f"{'':>9} further  ours {say(ours)}   tracer {say(theirs)}   x {further:6.1f}")
    print(
        f"{'':>9} {min(ours) / floor:.1f} x the memory floor of {floor * 1e3:.1f} ms; "
        f"odd lines {odd}; hits theirs - ours {hits:+d}"
    )


def peak(size: int, lines: int) -> None:
    """Print what scoring one axis adds to the memory of a process that holds the mesh."""
    mesh = solids.lumpy_sphere(size)
    DepthRaster(solids.lumpy_sphere(1000), 64).score(np.array([0.1, 0.2, 0.9]))
    ctypes.CDLL(None).malloc_trim(0)
    Path("/proc/self/clear_refs").write_text("5")
    before = _resident_mb("VmRSS")
    kept = DepthRaster(mesh, lines)
    columns = kept.columns(np.array([0.1, 0.2, 0.9]))
    above = _resident_mb("VmHWM") - before
    print(f"{len(mesh.faces):>9,} memory   {above:.0f} MB above the mesh for {len(columns.z_mm):,} crossings")


def _resident_mb(name: str) -> float:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(name + ":"):
            return int(line.split()[1]) / 1024.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--sizes", default=",".join(map(str, SIZES)))
    asked.add_argument("--lines", type=int, default=512)
    asked.add_argument("--repeats", type=int, default=5)
    asked.add_argument("--memory", type=int, help="only measure the memory of one size")
    options = asked.parse_args()
    if options.memory:
        peak(options.memory, options.lines)
        return
    warm = DepthRaster(solids.lumpy_sphere(1000), 64).columns(np.array([0.1, 0.2, 0.9]))
    tracer(solids.lumpy_sphere(1000)).intersects_location(*rays(warm), multiple_hits=True)
    bandwidth = copy_bandwidth()
    print(
        f"{platform.machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, "
        f"python {platform.python_version()}, copy {bandwidth / 1e9:.1f} GB/s; "
        f"{options.lines} lines a side, one thread"
    )
    print(f"{'triangles':<18}{'ms: least   middle  largest':<38}{'least   middle  largest':<30}middle/middle")
    for size in map(int, options.sizes.split(",")):
        compare(size, options.lines, options.repeats, bandwidth)
    alone = [sys.executable, __file__, "--memory", "1000000", "--lines", str(options.lines)]
    subprocess.run(alone, check=True)


if __name__ == "__main__":
    main()
