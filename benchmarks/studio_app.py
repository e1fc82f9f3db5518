"""How fast the studio app answers: its first page, a turned pull, and thirty people at once.

Run as `python benchmarks/studio_app.py`. Beside each figure stands the same work without the app: the first
page against starting Python and importing what the app imports; a step of the pull against the depth raster
alone on the same mesh; thirty people against one asking by himself. Ratios are what to look at: the machine
may be busy.
"""

from __future__ import annotations

import gzip
import os
import statistics
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

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


def cpu_s(pid: int) -> float:
    """Seconds of processor that a process has used so far; nothing that the machine does besides counts."""
    fields = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def first_page() -> None:
    """From the command to the first byte, against bare imports."""
    import httpx2

    imports = "import numpy, fastapi, uvicorn, jinja2, typer"
    bare_s = min(timed(lambda: subprocess.run([sys.executable, "-c", imports], check=True)) for _ in range(3))
    taken: list[float] = []
    used: list[float] = []
    for _ in range(3):
        with tempfile.TemporaryDirectory() as folder:
            port = free_port()
            command = [sys.executable, "-m", "claybed", "serve", "--data", folder, "--port", str(port)]
            start = time.perf_counter()
            with subprocess.Popen(command, stdout=subprocess.DEVNULL) as child:
                while True:
                    try:
                        httpx2.get(f"http://127.0.0.1:{port}/", timeout=5.0)
                        used.append(cpu_s(child.pid))
                        break
                    except httpx2.HTTPError:
                        time.sleep(0.01)
                taken.append(time.perf_counter() - start)
                child.terminate()
    print(
        f"first page: {min(taken):.2f} s, of processor {min(used):.2f} s; "
        f"imports alone {bare_s:.2f} s; ratio {min(taken) / bare_s:.1f}"
    )


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


def first_frame() -> None:
    """From asking for an object's page to its first frame in headless Chromium, and what the page weighs."""
    from playwright.sync_api import sync_playwright

    from claybed.actions.looked_at import SHAPE
    from claybed.flow.course import run_survey
    from claybed.flow.document import survey_document
    from claybed.flow.store import NoStore
    from claybed.records.brief import Brief
    from claybed.register import keeping
    from claybed.scene.shape_file import shape_bytes
    from tests.conftest import CHROMIUM, FLAGS
    from tests.survey.objects import measured

    mesh = lumpy_sphere(TRIANGLES)
    small = measured(lumpy_sphere(2000))
    found = run_survey(lambda asked, told: small, Brief(), "", NoStore(), lambda *_: None)
    document = survey_document(found, Brief())
    with tempfile.TemporaryDirectory() as folder, running(Path(folder) / "data") as served:
        studio = served.app.state.studio
        with studio.register.writing() as db:
            thing = keeping.add_object(
                db, name="Lump", how="file", file="lump.stl", now="2026-11-25T10:00:00Z"
            )
            keeping.note_survey(db, thing, document, None)
        studio.object_folder(thing).mkdir()
        (studio.object_folder(thing) / SHAPE).write_bytes(shape_bytes(mesh))
        lit = {"vertices_mm": mesh.vertices_mm, "faces": mesh.faces, "origin": mesh.origin}
        np.savez(studio.object_folder(thing) / LIGHT, **lit)
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            taken, weight = [], 0
            for _ in range(3):
                page = browser.new_page()
                answers: list[Any] = []
                page.on("response", lambda one, kept=answers: kept.append(one))
                start = time.perf_counter()
                page.goto(f"{served.address}/objects/{thing}")
                page.wait_for_selector("#stage[data-drawn]")
                taken.append(time.perf_counter() - start)
                own = [one.body() for one in answers if "/api/" not in one.url]
                weight = sum(len(gzip.compress(body, 6)) for body in own)
                page.close()
            browser.close()
    print(
        f"first frame at {len(mesh.faces)} triangles: {min(taken):.2f} s; page {weight / 1000.0:.0f} kB "
        f"compressed before the mesh; machine busy with {os.getloadavg()[0]:.1f} others"
    )


def another_block() -> None:
    """A step of the wall's slider: the block less the model, gate joined anew."""
    from claybed.flow.blocks import blocks_of
    from claybed.flow.searching import make_mold
    from claybed.records.brief import Brief
    from claybed.survey.surveying import survey
    from tests.survey.objects import measured

    obj = measured(lumpy_sphere(20_000))
    brief = Brief(pieces=2, axis=(0.0, 0.0, 1.0), max_fill_ml=1e4)
    molded = make_mold(obj, survey(obj, brief, progress=lambda *_: None), brief, progress=lambda *_: None)
    at = blocks_of(obj, molded, brief)
    steps = []
    for wall_mm in range(30, 50):
        start = time.process_time()
        at(float(wall_mm), "boxed")
        steps.append(time.process_time() - start)
    median_ms = 1e3 * statistics.median(steps)
    print(f"another block at {len(obj.mesh.faces)} triangles: {median_ms:.0f} ms of processor")


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
    first_frame()
    another_block()
    turning()
    crowd()
