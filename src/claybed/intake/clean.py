"""Faces that are none: without numbers, without area, there twice, or hanging loose."""

from __future__ import annotations

import numpy as np

from claybed.errors import InputError
from claybed.intake.skin import Flags, Skin, areas_of, edges_of, parts_of
from claybed.intake.soup import Soup, Triples
from claybed.records.measured import Repair
from claybed.units import say_count

LARGEST_NONFINITE_SHARE = 0.01
LARGEST_LOOSE_SHARE = 0.002
_PEELS = 8


def finite_faces(soup: Soup, where: str) -> tuple[Triples, Repair | None]:
    """Faces (m, 3) whose points all have numbers for coordinates.

    Raises InputError when more than `LARGEST_NONFINITE_SHARE` of the faces have none.
    """
    good: Flags = np.asarray(np.isfinite(soup.vertices).all(axis=1))
    if good.all():
        return soup.faces, None
    keep: Flags = np.asarray(good[soup.faces].all(axis=1))
    bad = int((~keep).sum())
    if bad == 0:
        loose = int((~good).sum())
        says = f"Left out {say_count(loose, 'point')} without a number, which no triangle uses."
        return soup.faces, Repair("drop_nonfinite", loose, 0.0, "mm2", says)
    if bad > LARGEST_NONFINITE_SHARE * len(keep):
        raise InputError(
            f"{bad:,} of {len(keep):,} triangles have a corner that is not a number.",
            where=where,
            remedy="Export it again.",
        )
    says = f"Dropped {say_count(bad, 'triangle')} with a corner that is not a number."
    return soup.faces[keep], Repair("drop_nonfinite", bad, 0.0, "mm2", says)


def drop_degenerate(skin: Skin) -> tuple[Skin, Repair | None]:
    """Without faces that name a point twice."""
    f = skin.faces
    keep = (f[:, 0] != f[:, 1]) & (f[:, 1] != f[:, 2]) & (f[:, 2] != f[:, 0])
    return _dropped(skin, keep, "drop_degenerate", "Dropped {n} without area.")


def drop_duplicate(skin: Skin) -> tuple[Skin, Repair | None]:
    """Without faces on the same three points as an earlier one, whichever way they look."""
    rows = np.sort(skin.faces, axis=1)
    order = np.lexsort((rows[:, 2], rows[:, 1], rows[:, 0]))
    again = np.concatenate([[False], (rows[order][1:] == rows[order][:-1]).all(axis=1)])
    keep = np.ones(len(rows), bool)
    keep[order[again]] = False
    return _dropped(skin, keep, "drop_duplicate", "Dropped {n} found twice.")


def drop_loose(skin: Skin) -> tuple[Skin, Repair | None]:
    """Without fins that hang on an edge two other faces already share, and without tiny open scraps.

    Nothing is dropped when it would come to more than `LARGEST_LOOSE_SHARE` of the surface.
    """
    keep = _without_fins(skin) & _without_scraps(skin)
    area = areas_of(skin.vertices, skin.faces)
    if area[~keep].sum() > LARGEST_LOOSE_SHARE * area.sum():
        return skin, None
    return _dropped(skin, keep, "drop_scrap", "Dropped {n} hanging loose and enclosing nothing.")


def _without_fins(skin: Skin) -> Flags:
    keep = np.ones(len(skin.faces), bool)
    for _ in range(_PEELS):
        index = np.flatnonzero(keep)
        edges = edges_of(skin.faces[index], len(skin.vertices))
        crowded = (edges.count > 2)[edges.of_side].any(axis=1)
        fin = crowded & edges.open[edges.of_side].any(axis=1)
        if not fin.any():
            break
        keep[index[fin]] = False
    return keep


def _without_scraps(skin: Skin) -> Flags:
    count, part = parts_of(skin.faces, len(skin.vertices))
    if count == 1:
        return np.ones(len(skin.faces), bool)
    edges = edges_of(skin.faces, len(skin.vertices))
    opened = np.bincount(part, weights=edges.open[edges.of_side].any(axis=1), minlength=count) > 0
    area = np.bincount(part, weights=areas_of(skin.vertices, skin.faces), minlength=count)
    scrap = opened & (area < 0.1 * LARGEST_LOOSE_SHARE * area.sum())
    keep: Flags = ~scrap[part]
    return keep


def _dropped(skin: Skin, keep: Flags, step: str, words: str) -> tuple[Skin, Repair | None]:
    count = int((~keep).sum())
    if count == 0:
        return skin, None
    area = float(areas_of(skin.vertices, skin.faces[~keep]).sum())
    return skin.kept(keep), Repair(
        step, count, area, "mm2", words.format(n=f"{count:,} triangle{'s' if count != 1 else ''}")
    )
