"""Can two pieces close in a wrong place? A question about the keys' plan and the block's outline.

It steers where keys are placed. The proof asks the same of the finished pieces by motions of its own
(proof.closings); the two stand apart on purpose, so that a mistake in one is caught by the other.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
from numpy.typing import NDArray


def closing_miss_mm(
    keys_mm: NDArray[np.float64], footprint_mm: NDArray[np.float64], radius_mm: float
) -> float:
    """By how much the nearest wrong closing misses: the least, over wrong plan motions, of the worst key's
    distance to a socket.

    `keys_mm` (k, 2), `footprint_mm` (m, 2) outline, `radius_mm` of a key. Motions tried: every rigid plan
    motion that carries one pair of keys onto another, and the turns that carry the outline onto itself. Those
    that leave every key within a key's radius of its own socket slip into the right closing. Returns inf for
    fewer than two keys (nothing registers: judge that apart).
    """
    if len(keys_mm) < 2:
        return math.inf
    motions = _motions(keys_mm, footprint_mm, radius_mm)
    turn = np.array([m[0] for m in motions])
    shift = np.array([m[1] for m in motions])
    c, s = np.cos(turn), np.sin(turn)
    x, y = keys_mm.T
    moved = (
        np.stack([np.outer(c, x) - np.outer(s, y), np.outer(s, x) + np.outer(c, y)], axis=2) + shift[:, None]
    )
    wrong = np.linalg.norm(moved - keys_mm, axis=2).max(axis=1) >= radius_mm
    if not wrong.any():
        return math.inf
    distance = np.linalg.norm(moved[wrong][:, :, None] - keys_mm[None, None], axis=3)
    number = np.arange(len(keys_mm))
    # Few keys: every way of pairing them with sockets is tried, and the one whose worst pair is nearest
    # counts.
    worst = [
        distance[:, number, list(order)].max(axis=1) for order in itertools.permutations(number.tolist())
    ]
    return float(np.min(worst))


def pattern_miss_mm(keys_mm: NDArray[np.float64], other_mm: NDArray[np.float64]) -> float:
    """By how much one pattern of keys (k, 2) mm misses the sockets of another, (m, 2) mm, where it fits best.

    Tried are all rigid plan motions that carry one pair onto another, longer or shorter by any amount; inf
    for patterns of unlike numbers or of fewer than two keys.
    """
    if len(keys_mm) != len(other_mm) or len(keys_mm) < 2:
        return math.inf
    number = list(range(len(keys_mm)))
    pairs = list(itertools.permutations(number, 2))
    orders = np.array(list(itertools.permutations(number)))
    i, j = np.array([(a, b) for a, b in pairs for _ in pairs]).T
    k, m = np.array([(c, d) for _ in pairs for c, d in pairs]).T
    before, after = keys_mm[j] - keys_mm[i], other_mm[m] - other_mm[k]
    turn = np.arctan2(after[:, 1], after[:, 0]) - np.arctan2(before[:, 1], before[:, 0])
    c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
    rel = keys_mm[None] - ((keys_mm[i] + keys_mm[j]) / 2.0)[:, None]
    moved = np.stack([c * rel[:, :, 0] - s * rel[:, :, 1], s * rel[:, :, 0] + c * rel[:, :, 1]], axis=2)
    moved += ((other_mm[k] + other_mm[m]) / 2.0)[:, None]
    apart = np.linalg.norm(moved[:, :, None] - other_mm[None, None], axis=3)
    worst = apart[:, np.array(number)[None], orders].max(axis=2)
    return float(worst.min())


def _motions(
    keys: NDArray[np.float64], footprint: NDArray[np.float64], radius: float
) -> list[tuple[float, NDArray[np.float64]]]:
    motions: list[tuple[float, NDArray[np.float64]]] = []
    for (i, j), (k, m) in itertools.product(itertools.permutations(range(len(keys)), 2), repeat=2):
        if (i, j) == (k, m):
            continue
        before, after = keys[j] - keys[i], keys[m] - keys[k]
        if abs(float(np.linalg.norm(before)) - float(np.linalg.norm(after))) > 2.0 * radius:
            continue
        turn = math.atan2(after[1], after[0]) - math.atan2(before[1], before[0])
        c, s = math.cos(turn), math.sin(turn)
        middle = (keys[i] + keys[j]) / 2.0
        motions.append((turn, (keys[k] + keys[m]) / 2.0 - middle @ np.array([[c, s], [-s, c]])))
    turns = [math.pi]
    size = footprint.max(axis=0) - footprint.min(axis=0)
    if len(footprint) > 4:
        turns = [math.radians(d) for d in range(1, 360)]
    elif abs(float(size[0] - size[1])) < 2.0 * radius:
        turns = [math.pi / 2.0, math.pi, 1.5 * math.pi]
    centre = (footprint.max(axis=0) + footprint.min(axis=0)) / 2.0
    for turn in turns:
        c, s = math.cos(turn), math.sin(turn)
        motions.append((turn, centre - centre @ np.array([[c, s], [-s, c]])))
    return motions
