"""How far the cells of a plan raster lie from the nearest marked one, exactly."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats


def away_from(marked: NDArray[np.bool_]) -> Floats:
    """Distance (rows, columns) of every cell's middle from that of the nearest `marked` cell, in cells; inf
    everywhere when none is.

    The distances along the columns raise a parabola each over every row; the lowest of these at a cell is its
    distance, squared, in whole numbers.
    """
    away: Floats = _away(np.ascontiguousarray(marked))
    return away


@njit(cache=True, nogil=True, error_model="numpy")
def _away(marked: NDArray[np.bool_]) -> Floats:
    rows, columns = marked.shape
    far = rows + columns
    upright = np.empty((rows, columns), np.int64)
    for j in range(rows):
        for i in range(columns):
            before = upright[j - 1, i] + 1 if j else far
            upright[j, i] = 0 if marked[j, i] else min(before, far)
    for j in range(rows - 2, -1, -1):
        for i in range(columns):
            upright[j, i] = min(upright[j, i], upright[j + 1, i] + 1)
    away = np.full((rows, columns), np.inf)
    # Columns whose parabola is the lowest somewhere, and the first cell at which it is.
    lowest, begins = np.empty(columns, np.int64), np.empty(columns + 1, np.int64)
    for j in range(rows):
        count = 0
        for i in range(columns):
            g = upright[j, i]
            if g >= far:
                continue
            first = 0
            while count:
                k = lowest[count - 1]
                rise = g * g + i * i - upright[j, k] * upright[j, k] - k * k
                first = -((-rise) // (2 * (i - k)))
                if first > begins[count - 1]:
                    break
                count -= 1
                first = 0
            if first < columns:
                lowest[count], begins[count] = i, first
                count += 1
        begins[count] = columns
        for q in range(count):
            k = lowest[q]
            g = upright[j, k]
            for i in range(begins[q], begins[q + 1]):
                away[j, i] = np.sqrt(float((i - k) * (i - k) + g * g))
    return away
