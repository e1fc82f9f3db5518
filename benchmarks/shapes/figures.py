"""Figures and other shapes for everyday_objects.py: animals, a mask, whistles, tiles, a ladle."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shapes.drawing import Solid, ball, box, drawn_up, egg, rod, rounded, sheath, tube, turned


def bundt() -> Solid:
    """A ring with twelve lobes, a hole through its middle."""

    def lobed(turn: np.ndarray, z: float) -> np.ndarray:
        swell = 1.0 - (z / 65.0) ** 4 * 0.3
        return (70.0 + 5.0 * np.cos(12.0 * turn)) * swell

    heights = [0.0, 12.0, 24.0, 36.0, 46.0, 54.0, 60.0]
    return sheath(lobed, heights, 144) - turned((14.0, -1.0), (22.0, 61.0))


def relief_tile() -> Solid:
    """A tile with a raised branch of leaves and a rim."""
    tile = box(120.0, 120.0, 12.0) - drawn_up(rounded(108.0, 108.0, 6.0), 6.0, 1.02).translate(
        (0.0, 0.0, 8.0)
    )
    branch = tube(3.0, (-40.0, -40.0, 8.0), (-10.0, -15.0, 8.5), (15.0, 10.0, 8.5), (38.0, 42.0, 8.0))
    for x, y, turn in (
        (-22.0, -2.0, 100.0),
        (4.0, -28.0, -10.0),
        (2.0, 24.0, 95.0),
        (30.0, 0.0, 0.0),
        (24.0, 34.0, 60.0),
    ):
        branch = branch + egg((20.0, 8.0, 4.0), (0.0, 0.0, 0.0)).rotate((0.0, 0.0, turn)).translate(
            (x, y, 8.0)
        )
    return tile + branch.trim_by_plane((0.0, 0.0, 1.0), 7.0)


def dog() -> Solid:
    """A standing dog: four legs, a snout, ears and a tail."""
    trunk = Solid.hull(ball(17.0, -26.0, 0.0, 52.0) + ball(19.0, 24.0, 0.0, 54.0))
    neck = Solid.hull(ball(12.0, 28.0, 0.0, 60.0) + ball(11.0, 44.0, 0.0, 82.0))
    face = Solid.hull(ball(14.0, 46.0, 0.0, 86.0) + ball(7.0, 66.0, 0.0, 80.0))
    out = trunk + neck + face + tube(4.5, (-38.0, 0.0, 60.0), (-52.0, 0.0, 74.0), (-54.0, 0.0, 88.0))
    for x in (-30.0, 28.0):
        for y in (-10.0, 10.0):
            leg = Solid.hull(
                ball(9.0, x, y, 46.0) + Solid.cylinder(4.0, 7.0, 6.5, 32).translate((x + 2.0, y, 0.0))
            )
            out = out + leg
    for y in (-9.0, 9.0):
        out = out + egg((5.0, 3.5, 9.0), (42.0, y * 1.2, 99.0), 32)
    return out


def knight() -> Solid:
    """A chess knight: a flat head of straight cuts on a turned base."""
    outline = [
        (-16.0, 0.0),
        (16.0, 0.0),
        (14.0, 14.0),
        (22.0, 22.0),
        (30.0, 24.0),
        (31.0, 32.0),
        (18.0, 44.0),
        (8.0, 56.0),
        (2.0, 52.0),
        (-8.0, 46.0),
        (-18.0, 26.0),
    ]
    head = (
        drawn_up(outline, 22.0)
        .translate((0.0, 0.0, -11.0))
        .rotate((90.0, 0.0, 0.0))
        .translate((-2.0, 0.0, 26.0))
    )
    base = turned(
        (26.0, 0.0),
        (26.0, 6.0),
        (20.0, 12.0),
        (20.0, 16.0),
        (22.0, 19.0),
        (22.0, 22.0),
        (18.0, 28.0),
        sides=48,
    )
    return base + head


def face_mask() -> Solid:
    """A mask, open behind, with nose, brow and lips."""
    front = (
        egg((62.0, 82.0, 48.0), (0.0, 0.0, 0.0))
        + egg((11.0, 24.0, 18.0), (0.0, 2.0, 42.0))
        + egg((20.0, 6.0, 8.0), (0.0, -36.0, 40.0))
    )
    front = front + egg((44.0, 9.0, 10.0), (0.0, 26.0, 38.0))
    front = front - egg((15.0, 9.0, 5.0), (24.0, 12.0, 44.0)) - egg((15.0, 9.0, 5.0), (-24.0, 12.0, 44.0))
    return (front - egg((56.0, 76.0, 41.0), (0.0, 0.0, 0.0))).trim_by_plane((0.0, 0.0, 1.0), 4.0)


def ladle() -> Solid:
    """A ladle: a bowl and a long handle that rises and bends over."""
    bowl = ball(36.0, 0.0, 0.0, 36.0) - ball(32.0, 0.0, 0.0, 36.0)
    bowl = bowl.trim_by_plane((0.0, 0.0, -1.0), -38.0)
    handle = tube(
        5.0, (34.0, 0.0, 36.0), (60.0, 0.0, 62.0), (90.0, 0.0, 82.0), (122.0, 0.0, 90.0), (136.0, 0.0, 84.0)
    )
    return bowl + (handle - ball(33.0, 0.0, 0.0, 36.0))


def ocarina() -> Solid:
    """An egg with a mouthpiece, full, with dents where the finger holes will be pierced."""
    body = egg((52.0, 28.0, 24.0), (0.0, 0.0, 0.0)) + Solid.hull(
        ball(9.0, 12.0, 22.0, 0.0) + box(18.0, 6.0, 10.0, (18.0, 48.0, -5.0))
    )
    for x, y in ((-26.0, -6.0), (-12.0, 8.0), (4.0, -8.0), (20.0, 2.0)):
        body = body - ball(5.0, x, y, 24.5)
    return body


def hollow_ocarina() -> Solid:
    """The same, hollow, its four finger holes and its mouthpiece open."""
    body = ocarina() - egg((47.0, 23.0, 19.0), (0.0, 0.0, 0.0))
    for x, y in ((-26.0, -6.0), (-12.0, 8.0), (4.0, -8.0), (20.0, 2.0)):
        body = body - rod(3.5, 30.0, (x, y, 0.0), (0.0, 0.0, 0.0))
    return body - box(8.0, 60.0, 4.0, (18.0, 45.0, -2.0))


def cheering_figure() -> Solid:
    """A figure in a skirt with both arms raised."""
    skirt = turned(
        (34.0, 0.0),
        (28.0, 20.0),
        (16.0, 58.0),
        (18.0, 76.0),
        (16.0, 92.0),
        (7.0, 100.0),
        (7.0, 108.0),
        sides=64,
    )
    out = skirt + ball(15.0, 0.0, 0.0, 120.0) + ball(4.0, 14.0, 0.0, 119.0)
    for y in (-1.0, 1.0):
        out = (
            out
            + tube(5.5, (0.0, 14.0 * y, 88.0), (2.0, 32.0 * y, 96.0), (4.0, 40.0 * y, 128.0))
            + ball(7.0, 4.0, 40.0 * y, 132.0)
        )
    return out


def insulator(hollow_mm: float) -> Solid:
    """An insulator with three skirts, hollow so far below each."""
    profile = [(12.0, 0.0), (14.0, 16.0)]
    for z in (16.0, 38.0, 60.0):
        low = z - hollow_mm
        profile += [(16.0, z), (32.0, low), (34.0, low + 4.0), (18.0, z + 10.0), (15.0, z + 14.0)]
    return turned(*profile, (15.0, 82.0), (20.0, 86.0), (20.0, 94.0), (14.0, 98.0))


def wall_pocket() -> Solid:
    """Half a vase with a flat back, full, and a hole to hang it by."""
    body = turned((10.0, 0.0), (28.0, 30.0), (36.0, 70.0), (30.0, 110.0), (38.0, 130.0)).trim_by_plane(
        (0.0, 1.0, 0.0), 0.0
    )
    back = Solid.hull(
        box(60.0, 8.0, 60.0, (0.0, 4.0, 90.0)) + rod(20.0, 8.0, (0.0, 8.0, 150.0), (90.0, 0.0, 0.0))
    )
    return body + back - rod(4.0, 30.0, (0.0, 20.0, 155.0), (90.0, 0.0, 0.0))


def star_dish() -> Solid:
    """A dish with the outline of a star, its points rounded, coarse."""

    def star(turn: np.ndarray, z: float) -> np.ndarray:
        return (48.0 + 0.5 * z) * (1.0 + 0.22 * np.cos(5.0 * turn))

    inner = sheath(lambda turn, z: star(turn, z) - 6.0, [5.0, 26.0], 60)
    return sheath(star, [0.0, 25.0], 60) - inner


def shell() -> Solid:
    """A snail: a coil of balls that grow, on a foot."""
    turn = np.linspace(0.0, 4.0 * np.pi, 49)
    out = Solid()
    for t in turn:
        r = 3.0 + 15.0 * t / turn[-1]
        far = 4.0 + 22.0 * t / turn[-1]
        out = out + Solid.sphere(r, 40).translate(
            (far * np.cos(t), 16.0 * (1.0 - t / turn[-1]), 44.0 + far * np.sin(t))
        )
    foot = Solid.hull(
        egg((40.0, 15.0, 12.0), (12.0, 0.0, 12.0), 40) + egg((12.0, 8.0, 6.0), (-36.0, 0.0, 8.0), 40)
    ) + tube(9.0, (44.0, 0.0, 14.0), (58.0, 0.0, 34.0))
    return (out + foot).trim_by_plane((0.0, 0.0, 1.0), 2.0)


# Each with what a person would say beside the file's name; some lie turned in space, as files do.
FIGURES: dict[str, tuple[Callable[[], Solid], dict[str, object]]] = {
    "bundt": (bundt, {}),
    "relief_tile": (relief_tile, {"use": "press"}),
    "dog": (dog, {}),
    "dog_turned": (lambda: dog().rotate((23.0, -41.0, 67.0)), {}),
    "knight": (knight, {}),
    "face_mask": (face_mask, {"mouth": True, "up": (0.0, 0.0, -1.0)}),
    "ladle": (ladle, {"ware_wall_mm": 2.5}),
    "ocarina": (lambda: ocarina().rotate((2.0, 3.0, 0.0)), {}),
    "hollow_ocarina": (hollow_ocarina, {}),
    "cheering_figure": (cheering_figure, {}),
    "insulator": (lambda: insulator(0.0), {}),
    "hollow_insulator": (lambda: insulator(7.0), {}),
    "wall_pocket": (wall_pocket, {}),
    "star_dish": (star_dish, {"mouth": True}),
    "shell": (shell, {}),
}
