"""A whole plan against the bare booleans that would cut the same block.

Run as `python benchmarks/whole_plan.py [--sizes 20000,235000,1300000] [--repeats 5]`. The object is a scanned
figure, made finer to about so many triangles by splitting its longest edges and by Loop subdivision; its pull
is given, so that no search for an axis is in the times. Both sides start from the same mesh on the same
lattice. The bare side makes a solid of it, takes it out of the block and splits what is left in two; ours
also makes gate, seam, parting surface and keys, and proves the result. The two take turns, so that a busy
machine slows both. Compiling is left out. Large meshes are repeated less often.

Ratios are of processor time, user and system, of all threads and of ended children: it says what the work
costs, whatever else the machine does meanwhile. Seconds on the clock stand beside it. Drawing the sheets is
not in the times; it is in the whole command, whose seconds and memory are those of the command and of the
child it starts.
"""

from __future__ import annotations

import argparse
import gc
import math
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from importlib.metadata import version
from pathlib import Path

# As in the process that the command starts.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import manifold3d
import numpy as np
import trimesh
from numpy.typing import NDArray

from claybed.flow import cutting, molding
from claybed.flow.course import plan_all_pours, run_course
from claybed.flow.searching import make_mold
from claybed.geometry.lattice import lattice_mm, to_lattice
from claybed.geometry.mesh import Mesh
from claybed.geometry.stl import stl_bytes
from claybed.intake.reading import read_object
from claybed.proof.evidence import prove, prove_files, weak_plaster
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import Survey
from claybed.survey.surveying import survey

ROOT = Path(__file__).resolve().parents[1]
FIGURE = ROOT / "tests" / "pieces" / "files" / "npm_bunny.obj"
PULL = (-0.227, 0.352, 0.908)
HEIGHT_MM = 155.0
BRIEF = Brief(height_mm=HEIGHT_MM, up=(0.0, 1.0, 0.0), axis=PULL, pieces=2, max_fill_ml=1000.0)
# Parts of cutting the mold that are timed each by itself, where the flow calls them.
PARTS = ("join_gate", "snapped", "envelope", "part", "place_keys", "cut_block", "relieve")
STAGES = ("survey", "mold", "pours", "proof", "files")
POLL_S = 0.02
# What is meant to hold from 20 000 to 1.3 million triangles.
GROWTH_MOST = 1.15
MEMORY_MOST_MB = 2500
SIZES = "20000,60000,235000,550000,1300000"
# Up to this many triangles a size is repeated as often as asked.
OFTEN_TRIANGLES = 60_000


@dataclass(frozen=True)
class Spent:
    """Seconds on the clock, and of processor time in all threads and ended children."""

    clock_s: float = 0.0
    busy_s: float = 0.0

    def __add__(self, other: Spent) -> Spent:
        """Both together."""
        return Spent(self.clock_s + other.clock_s, self.busy_s + other.busy_s)

    def __sub__(self, other: Spent) -> Spent:
        """From one moment to another."""
        return Spent(self.clock_s - other.clock_s, self.busy_s - other.busy_s)


def now() -> Spent:
    """This moment, by both clocks."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return Spent(time.perf_counter(), sum(u.ru_utime + u.ru_stime for u in used))


@dataclass
class Run:
    """What one run took by stage, and the parts inside the mold."""

    stages: dict[str, Spent] = field(default_factory=dict)
    parts: dict[str, Spent] = field(default_factory=dict)
    calls: dict[str, int] = field(default_factory=dict)
    failed: list[str] = field(default_factory=list)

    @property
    def mold_and_proof(self) -> Spent:
        """What is set against the bare booleans."""
        return self.stages["mold"] + self.stages["proof"]

    @property
    def whole(self) -> Spent:
        """All stages after the file was read."""
        return sum(self.stages.values(), Spent())


@dataclass(frozen=True)
class Row:
    """One size: triangles, middle processor seconds of each side, and the command's most memory."""

    faces: int
    ours: float
    whole: float
    bare: float
    memory_mb: float


class Kept:
    """A store in memory."""

    def __init__(self) -> None:
        self.records: dict[str, object] = {}

    def get(self, key: str) -> object | None:
        """The record under a key."""
        return self.records.get(key)

    def put(self, key: str, record: object) -> None:
        """Keep a record."""
        self.records[key] = record


def silent(step: str, share: float) -> None:
    """Progress that nobody watches."""


def figure(triangles: int = 0) -> MeasuredObject:
    """The figure as intake hands it on, made finer to about so many triangles; never coarser than it is."""
    obj = read_object(FIGURE, replace(BRIEF, axis=None), progress=silent)
    own = len(obj.mesh.faces)
    times = max(0, math.floor(math.log(max(triangles, own) / own, 4) + 0.01))
    v, f = obj.mesh.vertices_mm, obj.mesh.faces
    for _ in range(24):
        more = triangles // 4**times - len(f)
        if more < 0.01 * len(f):
            break
        v, f = split_longest(v, f, more // 2)
    if times:
        v, f = trimesh.remesh.subdivide_loop(v, f, iterations=times)
    mesh = Mesh.make(v, f, frame="object")
    return replace(obj, mesh=mesh, solid_ml=mesh.volume_mm3 / 1e3, area_cm2=mesh.area_mm2 / 100.0)


def split_longest(
    vertices: NDArray[np.float64], faces: NDArray[np.integer], most: int
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Split up to `most` of the longest edges in the middle, no two of one triangle."""
    sides = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2).astype(np.int64)
    edges, number = np.unique(np.sort(sides, axis=1), axis=0, return_inverse=True)
    length = np.linalg.norm(vertices[edges[:, 0]] - vertices[edges[:, 1]], axis=1)
    order = np.argsort(number.reshape(-1), kind="stable").reshape(-1, 2)
    gone: set[int] = set()
    points, came = list(vertices), []
    for edge in np.argsort(-length).tolist():
        one, two = order[edge].tolist()
        if one // 3 in gone or two // 3 in gone:
            continue
        if len(gone) >= 2 * most:
            break
        for side in (one, two):
            a, b, c = (int(faces[side // 3, (side + k) % 3]) for k in range(3))
            came += [(a, len(points), c), (len(points), b, c)]
            gone.add(side // 3)
        points.append((vertices[edges[edge, 0]] + vertices[edges[edge, 1]]) / 2.0)
    kept = np.delete(faces, sorted(gone), axis=0).astype(np.int64)
    return np.array(points), np.concatenate([kept, np.array(came, np.int64).reshape(-1, 3)])


@contextmanager
def parts_timed(run: Run) -> Iterator[None]:
    """Time the parts of cutting the mold while the flow runs."""
    homes = {name: cutting if hasattr(cutting, name) else molding for name in PARTS}
    plain = {name: getattr(home, name) for name, home in homes.items()}

    def watched(name: str) -> Callable[..., object]:
        def call(*args: object, **kwargs: object) -> object:
            start = now()
            try:
                return plain[name](*args, **kwargs)
            finally:
                run.parts[name] = run.parts.get(name, Spent()) + (now() - start)
                run.calls[name] = run.calls.get(name, 0) + 1

        return call

    try:
        for name, home in homes.items():
            setattr(home, name, watched(name))
        yield
    finally:
        for name, function in plain.items():
            setattr(homes[name], name, function)


def plan(obj: MeasuredObject, found: Survey | None = None) -> tuple[Run, Assembly]:
    """Run the stages once."""
    run = Run()

    @contextmanager
    def stage(name: str) -> Iterator[None]:
        start = now()
        yield
        run.stages[name] = now() - start

    with stage("survey"):
        found = found or survey(obj, BRIEF, progress=silent)
    with stage("mold"), parts_timed(run):
        molded = make_mold(obj, found, BRIEF, progress=silent, weak=lambda a: weak_plaster(a, BRIEF))
    assembly = molded.assembly
    with stage("pours"):
        poured = plan_all_pours(obj, assembly, BRIEF)
    with stage("proof"):
        wet_kg = {pour.piece: pour.wet_kg for pour in poured.pours}
        checks = prove(assembly, obj.mesh, BRIEF, wet_kg, progress=silent)
    with stage("files"):
        solids = {**{p.id: p.solid for p in assembly.pieces}, "model": assembly.model}
        checks += prove_files({name: stl_bytes(s) for name, s in solids.items()}, assembly, checks)
    run.failed = [c.id for c in checks if not c.ok]
    return run, assembly


def bare(obj: MeasuredObject, assembly: Assembly) -> Spent:
    """What it takes to make a solid, subtract it from the block and split the rest, on the mesh ours cut."""
    lat = to_lattice(obj.mesh, assembly.to_block, assembly.shift_mm)
    vertices, faces = lattice_mm(lat.points).astype(np.float32), lat.faces.astype(np.uint32)
    x, y = (float(v) for v in np.ptp(assembly.footprint, axis=0) / 1024.0)
    z = assembly.height / 4096.0
    start = now()
    solid = manifold3d.Manifold(manifold3d.Mesh(vertices, faces))
    block = manifold3d.Manifold.cube([x, y, z]).translate([-x / 2.0, -y / 2.0, 0.0])
    halves = (block - solid).split_by_plane([0.0, 0.0, 1.0], assembly.level_mm)
    kept = [half.num_tri() for half in halves]
    spent = now() - start
    if min(kept) == 0 or solid.status() != manifold3d.Error.NoError:
        raise SystemExit(f"the bare side gave no solid: {solid.status()}, {kept}")
    return spent


def replanned(obj: MeasuredObject) -> tuple[float, float]:
    """Processor seconds of a first plan, and of one with another wall when the survey is still known."""
    store = Kept()
    seconds = []
    for brief in (BRIEF, replace(BRIEF, wall_mm=42.0)):
        start = now()
        run_course(lambda b, p: obj, brief, "figure", store, silent)
        seconds.append((now() - start).busy_s)
    return seconds[0], seconds[1]


def peaks(obj: MeasuredObject, folder: Path) -> tuple[float, float, Spent, int]:
    """Peak resident MB of the command and of its child, what they took together and the exit code, sheets
    drawn.
    """
    file = folder / f"figure_{len(obj.mesh.faces)}.stl"
    trimesh.Trimesh(obj.mesh.vertices_mm, obj.mesh.faces, process=False).export(file)
    axis = ",".join(map(str, PULL))
    command = [sys.executable, "-m", "claybed", "plan", str(file), "--unit", "mm", f"--axis={axis}"]
    command += ["--up=0,1,0", "--pieces", "2", "--max-fill", "1000ml", "--out", str(folder / file.stem)]
    environment = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache")}
    start = now()
    process = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    most: dict[int, float] = {}
    while process.poll() is None:
        for pid in [process.pid, *_children(process.pid)]:
            most[pid] = max(most.get(pid, 0.0), _peak_mb(pid))
        time.sleep(POLL_S)
    parent = most.pop(process.pid, 0.0)
    return parent, max(most.values(), default=0.0), now() - start, process.returncode


def _children(pid: int) -> list[int]:
    found = []
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        try:
            found += [int(word) for word in task.read_text().split()]
        except OSError:
            continue
    return found + [deeper for child in found for deeper in _children(child)]


def _peak_mb(pid: int) -> float:
    try:
        for line in Path(f"/proc/{pid}/status").read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1024.0
    except OSError:
        pass
    return 0.0


def say(values: list[float]) -> str:
    """Least, middle and largest."""
    return f"{min(values):7.2f} {statistics.median(values):7.2f} {max(values):7.2f}"


def in_words(spent: Sequence[Spent]) -> str:
    """The middle of several runs: processor seconds, and seconds on the clock."""
    busy_s = statistics.median(s.busy_s for s in spent)
    return f"{busy_s:.2f} ({statistics.median(s.clock_s for s in spent):.2f})"


def compare(triangles: int, repeats: int, folder: Path | None) -> Row:
    """One size: both sides in turn; with a folder also a second plan and the memory of the command."""
    obj = figure(triangles)
    runs, theirs = [], []
    for _ in range(max(1, round(repeats * min(1.0, (OFTEN_TRIANGLES / len(obj.mesh.faces)) ** 0.5)))):
        run, assembly = plan(obj)
        runs.append(run)
        theirs.append(bare(obj, assembly))
    busy = [t.busy_s for t in theirs]
    ours = [r.mold_and_proof.busy_s for r in runs]
    whole = [r.whole.busy_s for r in runs]
    faces = len(obj.mesh.faces)
    print(
        f"{faces:>9,}  ours {say(ours)}   bare {say(busy)}   times {say(ratios(ours, busy))}"
        f"   {len(runs)} runs, load {os.getloadavg()[0]:.1f}"
    )
    print(f"{'':>10} whole {say(whole)}   {'':>28} times {say(ratios(whole, busy))}")
    print(
        f"{'':>11}clock   ours {in_words([r.mold_and_proof for r in runs])}  bare {in_words(theirs)}"
        f"  whole {in_words([r.whole for r in runs])}"
    )
    print(f"{'':>11}stages  " + "  ".join(f"{s} {in_words([r.stages[s] for r in runs])}" for s in STAGES))
    count = runs[-1].calls
    parts = (f"{n} {in_words([r.parts.get(n, Spent()) for r in runs])} {count.get(n, 0)}x" for n in PARTS)
    print(f"{'':>11}mold    " + "  ".join(parts))
    if runs[-1].failed:
        print(f"{'':>11}checks not met: {', '.join(runs[-1].failed)}")
    memory_mb = 0.0
    if folder is not None:
        first, again = replanned(obj)
        print(f"{'':>11}first plan {first:.2f} s, another wall with the survey known {again:.2f} s")
        parent, child, spent, code = peaks(obj, folder)
        memory_mb = parent + child
        print(
            f"{'':>11}command {in_words([spent])} s, exit {code}; "
            f"most memory {parent:.0f} MB, its child {child:.0f} MB, together {memory_mb:.0f} MB"
        )
    return Row(faces, statistics.median(ours), statistics.median(whole), statistics.median(busy), memory_mb)


def ratios(ours: Sequence[float], theirs: Sequence[float]) -> list[float]:
    """How many times the one is the other, run by run."""
    return [a / b for a, b in zip(ours, theirs, strict=True)]


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--sizes", default=SIZES, help="about how many triangles the figure is made of")
    asked.add_argument("--repeats", type=int, default=5)
    asked.add_argument("--short", action="store_true", help="only the times: no second plan, no memory")
    options = asked.parse_args()
    print(
        f"{platform.machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, "
        f"python {platform.python_version()}, manifold3d {version('manifold3d')}"
    )
    print(
        "triangles; processor seconds: least, middle, largest; times = ours / bare; ours is mold and proof, "
        "whole is all stages after reading; in brackets seconds on the clock"
    )
    plan(figure())
    gc.freeze()  # as in the process that the command starts
    rows = []
    with tempfile.TemporaryDirectory() as name:
        for size in map(int, options.sizes.split(",")):
            rows.append(compare(size, options.repeats, None if options.short else Path(name)))
    if len(rows) > 1:
        faces = [row.faces for row in rows]
        times = {n: np.log([getattr(row, n) for row in rows]) for n in ("ours", "whole", "bare")}
        powers = ", ".join(f"{n} {np.polyfit(np.log(faces), t, 1)[0]:.2f}" for n, t in times.items())
        print(f"growth as a power of the triangles (ours at most {GROWTH_MOST}): {powers}")
    if not options.short:
        most = max(rows, key=lambda row: row.memory_mb)
        print(
            f"most memory (at most {MEMORY_MOST_MB} MB): {most.memory_mb:.0f} MB at {most.faces:,} triangles"
        )


if __name__ == "__main__":
    main()
