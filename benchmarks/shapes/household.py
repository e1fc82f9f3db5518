"""Ware of the house for everyday_objects.py: vessels with spouts, ears and lugs, dishes, lids, planters."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shapes.drawing import Solid, ball, bar, box, drawn_up, egg, ring, rod, rounded, sheath, tube, turned


def teapot_lid() -> Solid:
    """A domed lid, hollow below, with a flange and a knob."""
    dome = turned(
        (36.0, 8.0),
        (36.0, 11.0),
        (30.0, 17.0),
        (20.0, 22.0),
        (5.5, 25.0),
        (5.0, 28.0),
        (9.0, 33.0),
        (8.0, 38.0),
        (3.0, 41.0),
    )
    return dome + turned((27.0, 0.0), (27.5, 9.0)) - turned((23.0, -1.0), (22.0, 8.0), (12.0, 14.0))


def sake_bottle() -> Solid:
    """A flask with a thumb's dent on either side."""
    body = turned(
        (26.0, 0.0),
        (34.0, 12.0),
        (37.0, 35.0),
        (33.0, 65.0),
        (20.0, 90.0),
        (11.0, 108.0),
        (10.0, 122.0),
        (15.0, 140.0),
        sides=128,
    )
    return body - ball(30.0, 0.0, 58.0, 40.0) - ball(30.0, 0.0, -58.0, 40.0)


def butter_lid() -> Solid:
    """A deep lid with a bar to lift it by, full below."""
    loaf = drawn_up(rounded(150.0, 80.0, 18.0), 50.0, 0.86)
    posts = box(10.0, 14.0, 20.0, (-28.0, 0.0, 48.0)) + box(10.0, 14.0, 20.0, (28.0, 0.0, 48.0))
    return loaf + posts + tube(7.0, (-34.0, 0.0, 70.0), (34.0, 0.0, 70.0))


def egg_tray() -> Solid:
    """A tray with six hollows and rounded corners."""
    tray = drawn_up(rounded(170.0, 115.0, 14.0), 24.0, 0.95)
    for x in (-50.0, 0.0, 50.0):
        for y in (-26.0, 26.0):
            tray = tray - egg((21.0, 21.0, 17.0), (x, y, 25.0))
    return tray


def pitcher() -> Solid:
    """A full pitcher, its spout drawn out, with an ear for a handle."""
    body = turned((32.0, 0.0), (45.0, 25.0), (46.0, 55.0), (33.0, 100.0), (30.0, 125.0), (37.0, 150.0))
    spout = Solid.hull(
        ball(8.0, 44.0, 0.0, 141.0) + ball(4.0, 26.0, 0.0, 112.0) + turned((28.0, 138.0), (36.0, 150.0))
    )
    ear = tube(
        7.0,
        (-30.0, 0.0, 128.0),
        (-50.0, 0.0, 134.0),
        (-68.0, 0.0, 122.0),
        (-72.0, 0.0, 98.0),
        (-62.0, 0.0, 68.0),
        (-42.0, 0.0, 45.0),
    )
    return (body + spout + ear).trim_by_plane((0.0, 0.0, -1.0), -150.0)


def plate() -> Solid:
    """A dinner plate with a foot ring, thin."""
    outside = turned(
        (52.0, 4.0),
        (54.0, 0.0),
        (58.0, 0.0),
        (60.0, 4.0),
        (70.0, 7.0),
        (98.0, 20.0),
        (100.0, 22.0),
        (98.0, 24.0),
        sides=160,
    )
    return outside - turned((66.0, 10.0), (94.0, 24.5), sides=160)


def lugged_bowl() -> Solid:
    """An open bowl with two flat lugs under its rim."""
    bowl = turned((26.0, 0.0), (30.0, 3.0), (52.0, 22.0), (62.0, 48.0), (64.0, 60.0)) - turned(
        (20.0, 8.0), (46.0, 24.0), (57.0, 48.0), (59.0, 61.0)
    )
    lug = Solid.hull(
        box(4.0, 44.0, 7.0, (60.0, 0.0, 46.0)) + rod(14.0, 6.0, (68.0, 0.0, 46.5), (0.0, 0.0, 0.0))
    )
    inside = turned((20.0, 8.0), (46.0, 24.0), (57.0, 48.0), (59.0, 61.0))
    return bowl + (lug + lug.rotate((0.0, 0.0, 180.0)) - inside)


def honey_pot() -> Solid:
    """A beehive of six rolls with a recessed foot."""
    profile = [(24.0, 4.0), (26.0, 0.0), (32.0, 0.0)]
    for k, wide in enumerate((38.0, 42.0, 42.0, 38.0, 31.0, 21.0)):
        profile += [(wide - 1.5, 14.0 * k + 4.0), (wide + 1.5, 14.0 * k + 9.0), (wide - 1.5, 14.0 * k + 14.0)]
    return turned(*profile, (15.0, 91.0), sides=72)


def tumbler() -> Solid:
    """A tumbler with ten facets, open."""
    outside = Solid.cylinder(100.0, 30.0, 40.0, 10) ^ turned((26.0, 0.0), (31.0, 6.0), (41.0, 100.0))
    return outside - turned((22.0, 10.0), (33.0, 101.0))


def trough() -> Solid:
    """A planter for a sill, full, on four feet, its rim thickened."""
    body = drawn_up(rounded(150.0, 60.0, 10.0), 70.0, 1.12) + drawn_up(
        rounded(176.0, 74.0, 12.0), 10.0
    ).translate((0.0, 0.0, 64.0))
    for x in (-55.0, 55.0):
        for y in (-18.0, 18.0):
            body = body + Solid.cylinder(10.0, 7.0, 9.0, 32).translate((x, y, -8.0))
    return body


def mortar() -> Solid:
    """A mortar: thick wall, a foot, a lip to pour from."""
    outside = turned((34.0, 0.0), (36.0, 8.0), (30.0, 16.0), (48.0, 50.0), (54.0, 80.0)) + Solid.hull(
        ball(6.0, 58.0, 0.0, 74.0) + box(4.0, 30.0, 14.0, (46.0, 0.0, 62.0))
    )
    return (
        outside
        - turned((16.0, 24.0), (36.0, 50.0), (43.0, 81.0))
        - rod(6.0, 40.0, (36.0, 0.0, 80.0), (0.0, 84.0, 0.0))
    ).trim_by_plane((0.0, 0.0, -1.0), -80.0)


def chamberstick() -> Solid:
    """A saucer with a candle's socket and a ring for a finger."""
    saucer = turned((40.0, 0.0), (58.0, 16.0)) - turned((34.0, 5.0), (53.0, 17.0))
    socket = turned((18.0, 4.0), (13.0, 10.0), (14.0, 38.0)) - turned((10.5, 16.0), (11.0, 39.0))
    return saucer + socket + (ring(13.0, 4.5, (68.0, 0.0, 12.0)) - turned((34.0, 5.0), (53.0, 17.0)))


def casserole() -> Solid:
    """An oval dish, full, with two looped handles."""
    body = turned((52.0, 0.0), (60.0, 8.0), (68.0, 55.0), (71.0, 58.0), (71.0, 64.0)).scale((1.25, 0.9, 1.0))
    for x in (-1.0, 1.0):
        body = body + tube(
            6.0,
            (80.0 * x, -22.0, 50.0),
            (100.0 * x, -16.0, 52.0),
            (104.0 * x, 0.0, 52.0),
            (100.0 * x, 16.0, 52.0),
            (80.0 * x, 22.0, 50.0),
        )
    return body


def twisted_vase() -> Solid:
    """A vase of five lobes, twisted by 70 degrees from foot to rim."""

    def lobed(turn: np.ndarray, z: float) -> np.ndarray:
        wide = 30.0 + 8.0 * np.sin(np.pi * (0.15 + 0.8 * z / 140.0))
        return wide * (1.0 + 0.1 * np.cos(5.0 * (turn - np.radians(70.0) * z / 140.0)))

    return sheath(lobed, list(np.linspace(0.0, 140.0, 71)), 160)


def fluted_bowl() -> Solid:
    """An open bowl with 24 flutes outside."""

    def fluted(turn: np.ndarray, z: float) -> np.ndarray:
        wide = 28.0 + 40.0 * np.sin(np.pi / 2.0 * z / 62.0)
        return wide - 1.6 * np.abs(np.cos(12.0 * turn)) * min(1.0, z / 10.0)

    return sheath(fluted, list(np.linspace(0.0, 60.0, 25)), 288) - turned(
        (14.0, 8.0), (36.0, 18.0), (54.0, 40.0), (61.0, 61.0)
    )


def square_eared_mug() -> Solid:
    """A full mug with a handle like a D, its section square."""
    body = turned((38.0, 0.0), (40.0, 3.0), (40.0, 95.0))
    ear = bar(
        box(8.0, 12.0, 8.0),
        (36.0, 0.0, 72.0),
        (58.0, 0.0, 72.0),
        (66.0, 0.0, 62.0),
        (66.0, 0.0, 34.0),
        (58.0, 0.0, 22.0),
        (36.0, 0.0, 22.0),
    )
    return body + ear


def basin() -> Solid:
    """A rectangular basin with round corners and a rim that stands out."""
    out = drawn_up(rounded(150.0, 105.0, 20.0, 48), 60.0, 1.12) + drawn_up(
        rounded(190.0, 140.0, 28.0, 48), 10.0
    ).translate((0.0, 0.0, 52.0))
    return out - drawn_up(rounded(130.0, 86.0, 22.0, 48), 56.0, 1.2).translate((0.0, 0.0, 8.0))


def lipped_jug() -> Solid:
    """An open jug whose rim turns in, with a foot."""
    outside = turned(
        (26.0, 3.0),
        (28.0, 0.0),
        (34.0, 0.0),
        (35.0, 4.0),
        (50.0, 40.0),
        (52.0, 60.0),
        (42.0, 88.0),
        (44.0, 100.0),
    )
    return outside - turned((24.0, 8.0), (44.0, 40.0), (46.0, 60.0), (36.0, 88.0), (38.0, 101.0))


# Each with what a person would say beside the file's name; some lie turned in space, as files do.
HOUSEHOLD: dict[str, tuple[Callable[[], Solid], dict[str, object]]] = {
    "teapot_lid": (teapot_lid, {"ware_wall_mm": 2.5}),
    "sake_bottle": (sake_bottle, {}),
    "butter_lid": (butter_lid, {}),
    "egg_tray": (egg_tray, {}),
    "pitcher": (pitcher, {}),
    "plate": (plate, {"ware_wall_mm": 2.0}),
    "lugged_bowl": (lugged_bowl, {"mouth": True}),
    "honey_pot": (honey_pot, {}),
    "tumbler": (tumbler, {"mouth": True}),
    "trough": (trough, {}),
    "mortar": (mortar, {"mouth": True}),
    "chamberstick": (chamberstick, {"ware_wall_mm": 2.5}),
    "casserole": (casserole, {}),
    "twisted_vase": (twisted_vase, {}),
    "fluted_bowl": (fluted_bowl, {"mouth": True}),
    "square_eared_mug": (square_eared_mug, {}),
    "mug_leaning": (lambda: square_eared_mug().rotate((1.5, -2.0, 31.0)), {}),
    "basin": (basin, {"mouth": True}),
    "lipped_jug": (lipped_jug, {"mouth": True}),
}
