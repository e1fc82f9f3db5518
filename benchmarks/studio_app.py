"""How fast the studio app answers: its first page, a turned pull, and thirty people at once.

Run as `python benchmarks/studio_app.py`. Beside each figure stands the same work without the app: the first
page against starting Python and importing what the app imports; a step of the pull against the depth raster
alone on the same mesh; thirty people against one asking by himself. Ratios are what to look at: the machine
may be busy.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

from claybed.actions.looked_at import LIGHT
from claybed.geometry.depth import DepthRaster
from claybed.jobs.resident import Resident
from tests.journeys.running_app import free_port, running
from tests.pieces.solids import lumpy_sphere

TRIANGLES = 80_000
STEPS = 40
PEOPLE = 30


def timed(work: object) -> float:
    """Seconds that calling `work` takes."""
    start = time.perf_counter()
    work()  # type: ignore[operator]
    return time.perf_counter() - start


def first_page() -> None:
    """From the command to the first byte, against bare imports."""
    import httpx2

    imports = "import numpy, fastapi, uvicorn, jinja2, typer"
    bare_s = min(timed(lambda: subprocess.run([sys.executable, "-c", imports], check=True)) for _ in range(3))
    taken = []
    for _ in range(3):
        with tempfile.TemporaryDirectory() as folder:
            port = free_port()
            command = [sys.executable, "-m", "claybed", "serve", "--data", folder, "--port", str(port)]
            start = time.perf_counter()
            with subprocess.Popen(command, stdout=subprocess.DEVNULL) as child:
                while True:
                    try:
                        httpx2.get(f"http://127.0.0.1:{port}/mix", timeout=5.0)
                        break
                    except httpx2.HTTPError:
                        time.sleep(0.01)
                taken.append(time.perf_counter() - start)
                child.terminate()
    print(f"first page: {min(taken):.2f} s; imports alone {bare_s:.2f} s; ratio {min(taken) / bare_s:.1f}")


def turning() -> None:
    """A step of the pull through the resident child, against the raster alone."""
    mesh = lumpy_sphere(TRIANGLES)
    axes = np.random.default_rng(1).normal(size=(STEPS, 3))
    raster = DepthRaster(mesh, 384)
    raster.columns(axes[0])
    bare = [timed(lambda a=axis: raster.columns(a)) for axis in axes]
    with tempfile.TemporaryDirectory() as folder:
        np.savez(Path(folder) / LIGHT, vertices_mm=mesh.vertices_mm, faces=mesh.faces, origin=mesh.origin)
        resident = Resident("claybed.actions.looking:make_turner", {"folder": folder})
        resident.ask(tuple(axes[0]))
        whole = [timed(lambda a=axis: resident.ask(tuple(a))) for axis in axes]
        resident.close()
    one, alone = statistics.median(whole), statistics.median(bare)
    print(
        f"turned pull at {len(mesh.faces)} triangles: median {1e3 * one:.0f} ms, "
        f"worst {1e3 * max(whole):.0f} ms; raster alone {1e3 * alone:.0f} ms; ratio {one / alone:.1f}"
    )


def crowd() -> None:
    """Thirty people reading and logging, against one."""
    import httpx2

    from claybed.register import keeping

    with tempfile.TemporaryDirectory() as folder, running(Path(folder) / "data") as served:
        with served.app.state.studio.register.writing() as db:
            pieces = [{"letter": "A", "volume_ml": 2000.0, "wet_g": 3100.0}]
            mold = keeping.add_mold(db, name="A", plan_id=None, pieces=pieces, now="2026-11-25T10:00:00Z")

        def person(number: int) -> list[float]:
            taken = []
            with httpx2.Client(base_url=served.address, timeout=60.0) as client:
                for k in range(10):
                    entry = {"letter": "A", "mass_g": 1000.0 + k, "client_key": f"{number}-{k}"}
                    taken.append(timed(lambda e=entry: client.post(f"/api/molds/{mold}/weighings", json=e)))
                    taken.append(timed(lambda: client.get("/mix")))
                    time.sleep(0.5)
            return taken

        alone = person(-1)
        with ThreadPoolExecutor(PEOPLE) as people:
            taken = [one for own in people.map(person, range(PEOPLE)) for one in own]
    p95 = statistics.quantiles(taken, n=20)[-1]
    own = statistics.quantiles(alone, n=20)[-1]
    print(f"{PEOPLE} people: p95 {1e3 * p95:.0f} ms; one alone {1e3 * own:.0f} ms; ratio {p95 / own:.1f}")


if __name__ == "__main__":
    first_page()
    turning()
    crowd()
