"""A relief: a plate whose top follows the brightness of a picture."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from scipy import ndimage

from claybed.errors import InputError
from claybed.geometry.mesh import Floats, Mesh

FINEST: Final = 300


def relief(
    grey: Floats, *, width_mm: float, raised_mm: float, base_mm: float, smooth_mm: float, draft_deg: float
) -> Mesh:
    """A closed plate from brightness (rows, columns) of 0 to 1, top row first, standing on z = 0.

    `width_mm` across the picture's columns at the top edge; white stands `raised_mm` above black, which is
    `base_mm` thick; the picture is smoothed over `smooth_mm` (standard deviation) first; the outer sides lean
    out towards the foot by `draft_deg`. Raises InputError for sizes that are none.
    """
    for value, option in ((width_mm, "--width"), (raised_mm, "--raised"), (base_mm, "--base")):
        if not (math.isfinite(value) and 0.0 < value <= 2000.0):
            raise InputError(
                f"{value:g} mm is not made.", where=option, remedy="Use more than 0, to 2000 mm."
            )
    if not 0.0 <= draft_deg < 60.0 or not 0.0 <= smooth_mm <= width_mm:
        raise InputError(
            "the draft or smoothing is out of range.", where="--draft", remedy="2 to 10 degrees is usual."
        )
    rows, columns = grey.shape
    step_mm = width_mm / (columns - 1)
    shade = np.asarray(grey, np.float64)
    if smooth_mm > 0.0:
        shade = ndimage.gaussian_filter(shade, smooth_mm / step_mm, mode="nearest")
    top = base_mm + raised_mm * shade
    x = (np.arange(columns) - (columns - 1) / 2.0) * step_mm
    y = ((rows - 1) / 2.0 - np.arange(rows)) * step_mm
    xs, ys = np.meshgrid(x, y)
    upper = np.stack([xs, ys, top], axis=-1).reshape(-1, 3)
    at = np.arange(rows * columns).reshape(rows, columns)
    rim = np.concatenate(
        [at[:-1, 0], at[-1, :-1], at[:0:-1, -1], at[0, :0:-1]]
    )  # counter-clockwise from above
    out_mm = base_mm * math.tan(math.radians(draft_deg))
    lower = upper[rim].copy()
    lower[:, 0] += out_mm * np.sign(lower[:, 0]) * (np.abs(lower[:, 0]) >= x[-1] - 1e-9)
    lower[:, 1] += out_mm * np.sign(lower[:, 1]) * (np.abs(lower[:, 1]) >= y[0] - 1e-9)
    lower[:, 2] = 0.0
    n, k = len(upper), len(rim)
    low, after = n + np.arange(k), n + (np.arange(k) + 1) % k
    a, b, c, d = at[:-1, :-1].ravel(), at[1:, :-1].ravel(), at[1:, 1:].ravel(), at[:-1, 1:].ravel()
    faces = np.concatenate(
        [
            np.stack([a, b, c], axis=1),
            np.stack([a, c, d], axis=1),
            np.stack([low, after, np.roll(rim, -1)], axis=1),
            np.stack([low, np.roll(rim, -1), rim], axis=1),
            np.stack([np.full(k, n + k), after, low], axis=1),
        ]
    )
    points = np.concatenate([upper, lower, [[0.0, 0.0, 0.0]]])
    return Mesh.make(points, faces, frame="object")
