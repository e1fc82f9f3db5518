"""Fifty-eight everyday objects, each planned with no wish but its wall: how many are ready, in how many
pieces.

Run as `python benchmarks/everyday_objects.py [--only egg_cup,bell] [--seconds 300] [--stl FOLDER]`. The
objects are drawn here and in the folder shapes, from turned profiles, balls, rods and holes, so that no file
is needed. Each is planned in a process of its own, which is ended after so many seconds. A refusal is told
with its first words; a mold that is not ready, with the checks that fail. Seconds are those of the processor.
It measures what a person meets, not speed: a change to the cutting or the search is held against the table in
benchmarks/README.md.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

# As in the process that the command starts.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import manifold3d
import numpy as np
from shapes.drawing import Solid, ball, box, ring, rod, turned, write_stl
from shapes.figures import FIGURES
from shapes.household import HOUSEHOLD

from claybed.actions.planning import reader_of
from claybed.actions.warming import warm_up
from claybed.errors import CannotError
from claybed.flow.course import run_course
from claybed.flow.store import NoStore
from claybed.records.brief import Brief


def egg_cup(sides: int = 96) -> Solid:
    """Foot, waist and open bowl."""
    wall = [
        (22.0, 0.0),
        (21.0, 4.0),
        (12.0, 15.0),
        (11.0, 20.0),
        (14.0, 27.0),
        (22.0, 38.0),
        (25.5, 52.0),
        (26.0, 65.0),
    ]
    inside = [(23.0, 65.0), (22.0, 52.0), (17.0, 38.0), (8.0, 31.0)]
    return turned(*wall, *inside, sides=sides)


def salt_shaker() -> Solid:
    """A turned shaker with a recessed foot, its holes not yet pierced."""
    return turned(
        (14.0, 3.0),
        (15.0, 0.0),
        (21.0, 0.0),
        (22.0, 3.0),
        (20.0, 20.0),
        (15.0, 50.0),
        (16.0, 62.0),
        (12.0, 72.0),
        (5.0, 76.0),
    )


def candlestick() -> Solid:
    """A foot, a stem, a drip ring and a socket."""
    return turned(
        (40.0, 0.0),
        (40.0, 6.0),
        (14.0, 14.0),
        (10.0, 60.0),
        (30.0, 66.0),
        (30.0, 70.0),
        (15.0, 72.0),
        (15.0, 95.0),
        (11.0, 95.0),
        (11.0, 75.0),
    )


def doorknob() -> Solid:
    """A knob on a neck and a rose."""
    return turned(
        (28.0, 0.0),
        (28.0, 6.0),
        (12.0, 10.0),
        (11.0, 22.0),
        (24.0, 34.0),
        (28.0, 46.0),
        (24.0, 58.0),
        (10.0, 64.0),
    )


def finial() -> Solid:
    """A post's end with two beads."""
    return turned(
        (20.0, 0.0),
        (20.0, 8.0),
        (9.0, 12.0),
        (16.0, 22.0),
        (9.0, 34.0),
        (20.0, 50.0),
        (14.0, 66.0),
        (3.0, 84.0),
    )


def stopper() -> Solid:
    """A stopper: a plug under a cap with a knob."""
    return turned(
        (10.0, 0.0), (12.0, 22.0), (20.0, 24.0), (21.0, 28.0), (6.0, 34.0), (10.0, 42.0), (6.0, 50.0)
    )


def jug() -> Solid:
    """A full jug with a lip and a ring handle."""
    body = turned((28.0, 0.0), (40.0, 30.0), (38.0, 60.0), (28.0, 90.0), (34.0, 110.0))
    return body + (ring(24.0, 5.5, (-40.0, 0.0, 62.0)) - turned((26.0, -1.0), (26.0, 111.0)))


def footed_mug() -> Solid:
    """A full mug with a recessed foot and a ring handle."""
    body = turned((17.0, 4.0), (19.0, 0.0), (24.0, 0.0), (25.0, 4.0), (36.0, 50.0), (38.0, 90.0))
    return body + ring(20.0, 4.5, (40.0, 0.0, 48.0))


def soap_dish() -> Solid:
    """An oval dish with upright ribs in it."""
    dish = turned((40.0, 0.0), (50.0, 25.0)) - turned((34.0, 6.0), (45.0, 26.0))
    for x in (-20.0, -7.0, 7.0, 20.0):
        dish = dish + box(4.0, 50.0, 6.0, (x, 0.0, 5.0))
    return dish.scale((1.3, 0.9, 1.0))


def bell() -> Solid:
    """A full bell with a loop to hang it by."""
    return turned((34.0, 0.0), (31.0, 6.0), (22.0, 26.0), (20.0, 44.0), (12.0, 56.0)) + ring(
        7.0, 2.5, (0.0, 0.0, 61.0)
    )


def planter() -> Solid:
    """A square planter, full, with a recessed foot."""
    body = Solid.hull(box(70.0, 70.0, 1.0) + box(90.0, 90.0, 1.0, (0.0, 0.0, 79.0)))
    return body - box(50.0, 50.0, 6.0, (0.0, 0.0, -1.0))


def spoon_rest() -> Solid:
    """A shallow dish with a notch for the handle."""
    dish = turned((30.0, 0.0), (50.0, 14.0)) - turned((24.0, 4.0), (44.0, 15.0))
    return dish - rod(9.0, 60.0, (0.0, 0.0, 15.0), (0.0, 90.0, 0.0))


def nut() -> Solid:
    """A six-sided block with blind holes in three of its sides and one above."""
    block = Solid.cylinder(40.0, 35.0, 35.0, 6)
    for k in (0, 2, 4):
        block = block - Solid.cylinder(10.0, 7.0, 8.0, 48).rotate((0.0, 90.0, 0.0)).translate(
            (21.5, 0.0, 20.0)
        ).rotate((0.0, 0.0, 30.0 + 60.0 * k))
    return block - Solid.cylinder(16.0, 8.0, 9.0, 48).translate((0.0, 0.0, 25.0))


def drum(recesses: int) -> Solid:
    """A round block with tapered recesses in its side."""
    block = Solid.cylinder(60.0, 30.0, 30.0, 96)
    hole = Solid.cylinder(11.0, 7.0, 8.1, 48).rotate((0.0, 90.0, 0.0)).translate((20.0, 0.0, 30.0))
    for k in range(recesses):
        block = block - hole.rotate((0.0, 0.0, 360.0 * k / recesses))
    return block


def tile_hook() -> Solid:
    """A tile with a hook under it."""
    return (
        box(80.0, 60.0, 10.0)
        + box(12.0, 20.0, 16.0, (0.0, 0.0, -15.0))
        + box(32.0, 20.0, 8.0, (10.0, 0.0, -15.0))
    )


def toggle() -> Solid:
    """A toggle button with a waist."""
    return turned(
        (8.0, -30.0), (11.0, -22.0), (11.0, -8.0), (6.0, 0.0), (11.0, 8.0), (11.0, 22.0), (8.0, 30.0)
    )


def garlic_keeper() -> Solid:
    """A round jar, full, with blind holes round its belly."""
    body = turned((30.0, 0.0), (42.0, 25.0), (42.0, 55.0), (26.0, 80.0))
    for k in range(6):
        body = body - rod(4.0, 8.0, (36.0, 0.0, 40.0), (0.0, 90.0, 0.0)).rotate((0.0, 0.0, 60.0 * k))
    return body


def bird() -> Solid:
    """Body, head, beak and tail."""
    body = ball(26.0, 0.0, 0.0, 26.0).scale((1.3, 1.0, 0.9)) + ball(15.0, 26.0, 0.0, 50.0)
    beak = Solid.cylinder(14.0, 5.0, 1.0, 32).rotate((0.0, 90.0, 0.0)).translate((38.0, 0.0, 50.0))
    tail = Solid.hull(ball(6.0, -30.0, 0.0, 34.0) + ball(4.0, -50.0, 0.0, 48.0))
    return (body + beak + tail).trim_by_plane((0.0, 0.0, 1.0), 3.0)


def head() -> Solid:
    """A head on a neck, with nose, ears and a chin that overhangs."""
    skull = ball(30.0, 0.0, 0.0, 70.0).scale((1.0, 0.85, 1.0)) + ball(14.0, 20.0, 0.0, 46.0)
    ears = ball(7.0, 0.0, 26.0, 66.0) + ball(7.0, 0.0, -26.0, 66.0)
    return skull + ears + ball(6.0, 31.0, 0.0, 64.0) + turned((24.0, 0.0), (16.0, 12.0), (14.0, 50.0))


def lidded_box() -> Solid:
    """A lid: a plate with a knob above and a rim below."""
    return turned(
        (24.0, 6.0),
        (24.0, 0.0),
        (30.0, 0.0),
        (30.0, 6.0),
        (36.0, 8.0),
        (34.0, 13.0),
        (7.0, 17.0),
        (5.0, 22.0),
        (10.0, 30.0),
        (4.0, 36.0),
    )


def lugged_vase() -> Solid:
    """A full vase with two lugs, each with a hole."""
    body = turned((25.0, 0.0), (38.0, 45.0), (22.0, 90.0), (26.0, 105.0))
    return body + ring(9.0, 4.0, (31.0, 0.0, 84.0)) + ring(9.0, 4.0, (-31.0, 0.0, 84.0))


def trefoil() -> Solid:
    """A knotted tube."""
    n, m = 144, 24
    t = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    middle = 14.0 * np.stack(
        [np.sin(t) + 2.0 * np.sin(2.0 * t), np.cos(t) - 2.0 * np.cos(2.0 * t), -np.sin(3.0 * t)], axis=1
    )
    along = np.roll(middle, -1, axis=0) - np.roll(middle, 1, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    # The knot never runs straight up, so that this way aside is nowhere lost.
    aside = np.cross(along, (0.0, 0.0, 1.0))
    aside /= np.linalg.norm(aside, axis=1, keepdims=True)
    turn = np.linspace(0.0, 2.0 * np.pi, m, endpoint=False)
    round_it = (
        np.cos(turn)[None, :, None] * aside[:, None]
        + np.sin(turn)[None, :, None] * np.cross(along, aside)[:, None]
    )
    points = (middle[:, None] + 6.0 * round_it).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(n), np.arange(m), indexing="ij")
    a, b = i * m + j, (i + 1) % n * m + j
    c, d = (i + 1) % n * m + (j + 1) % m, i * m + (j + 1) % m
    faces = np.concatenate([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)]).reshape(-1, 3)
    tube = Solid(manifold3d.Mesh(points.astype(np.float32), faces.astype(np.uint32)))
    return (
        tube
        if tube.volume() > 0.0
        else Solid(manifold3d.Mesh(points.astype(np.float32), faces[:, ::-1].astype(np.uint32)))
    )


# Each with what a person would say beside the file's name.
OBJECTS: dict[str, tuple[Callable[[], Solid], dict[str, object]]] = {
    "egg_cup": (egg_cup, {"ware_wall_mm": 2.5}),
    "egg_cup_32": (lambda: egg_cup(32), {"ware_wall_mm": 2.5}),
    "salt_shaker": (salt_shaker, {}),
    "candlestick": (candlestick, {}),
    "doorknob": (doorknob, {}),
    "finial": (finial, {}),
    "stopper": (stopper, {"ware_wall_mm": 2.5}),
    "jug": (jug, {}),
    "footed_mug": (footed_mug, {}),
    "soap_dish": (soap_dish, {"ware_wall_mm": 2.5}),
    "bell": (bell, {}),
    "planter": (planter, {}),
    "spoon_rest": (spoon_rest, {"ware_wall_mm": 2.5}),
    "nut": (nut, {}),
    "drum_3": (lambda: drum(3), {}),
    "drum_4": (lambda: drum(4), {}),
    "tile_hook": (tile_hook, {}),
    "toggle": (toggle, {"ware_wall_mm": 2.5}),
    "garlic_keeper": (garlic_keeper, {}),
    "bird": (bird, {}),
    "head": (head, {}),
    "lid": (lidded_box, {"ware_wall_mm": 2.5}),
    "lugged_vase": (lugged_vase, {}),
    "trefoil": (trefoil, {}),
    **HOUSEHOLD,
    **FIGURES,
}


def planned(path: Path, wishes: dict[str, object], row: multiprocessing.connection.Connection) -> None:
    """Plan an object and send what came of it: pieces, ml to fill, words."""
    start = time.process_time()
    brief = Brief(unit="mm", **wishes)  # type: ignore[arg-type]
    try:
        course = run_course(reader_of(path), brief, str(path), NoStore(), lambda *_: None)
    except CannotError as reason:
        row.send(("-", "-", f"refused: {reason.what[:160]}", time.process_time() - start))
        return
    failed = [check.id for check in course.checks if not check.ok]
    option = course.molded.option
    words = f"not ready: {', '.join(failed)}" if failed else "ready"
    row.send(
        (str(len(course.molded.assembly.pieces)), f"{option.fill_ml:.2f}", words, time.process_time() - start)
    )


def main() -> int:
    """Plan them in turn and print the table."""
    say = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    say.add_argument("--only", default="", help="names, parted by commas")
    say.add_argument("--seconds", type=float, default=300.0, help="most on the clock for each")
    say.add_argument("--stl", type=Path, help="keep the objects in this folder")
    asked = say.parse_args()
    names = asked.only.split(",") if asked.only else list(OBJECTS)
    ready = 0
    warm_up(lambda *_: None, more_pieces=True)
    with tempfile.TemporaryDirectory() as scratch:
        folder = asked.stl or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        print(f"{'object':18s} {'pieces':>6s} {'ml':>6s} {'s':>6s}")
        for name in names:
            make, wishes = OBJECTS[name]
            path = write_stl(make(), folder / f"{name}.stl")
            here, there = multiprocessing.Pipe(duplex=False)
            work = multiprocessing.Process(target=planned, args=(path, wishes, there))
            work.start()
            there.close()
            try:
                pieces, fill, words, seconds = (
                    here.recv() if here.poll(asked.seconds) else ("-", "-", "not done in time", asked.seconds)
                )
            except EOFError:
                pieces, fill, words, seconds = "-", "-", "broke off", 0.0
            work.kill()
            work.join()
            ready += words == "ready"
            print(f"{name:18s} {pieces:>6s} {fill:>6s} {seconds:6.1f} {words}", flush=True)
    print(f"{ready} of {len(names)} ready")
    return 0


if __name__ == "__main__":
    sys.exit(main())
