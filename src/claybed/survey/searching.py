"""The search over axes: many on a light stand-in, the best again on the whole mesh."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from claybed.geometry.depth import DepthRaster, Score
from claybed.geometry.directions import Candidate, around, fibonacci_axes
from claybed.geometry.mesh import Floats, Mesh
from claybed.records.surveyed import Vector

SAMPLED_AXES = 250
COARSE_LINES = 256
FINE_LINES = 512
_THREADS = 2
# Axes nearer to one another than this share their valley; a descent from each of so many, in steps that end
# below what a hand can tell.
_APART_DEG = 8.0
_STARTS = 8
_STEPS_DEG = (5.0, 2.5, 1.25, 0.6)
_FINE_STEPS_DEG = (1.0, 0.5)
_MOVES = 4  # at most this many moves at one step
_WHOLE_AXES = 12
_WHOLE_STARTS = 3

Progress = Callable[[str, float], None]


@dataclass(frozen=True, slots=True)
class Ranked:
    """An axis with its plain score on the whole mesh."""

    candidate: Candidate
    score: Score


class Scorer:
    """Scores axes of one mesh, several at once, and counts them."""

    def __init__(self, mesh: Mesh, lines: int) -> None:
        self._rasters = [DepthRaster(mesh, lines) for _ in range(_THREADS)]
        self.count = 0

    @property
    def raster(self) -> DepthRaster:
        """A raster of this mesh, for one user at a time."""
        return self._rasters[0]

    def __call__(self, axes: Sequence[Vector] | Floats) -> list[Score]:
        """Scores of `axes` (n, 3), in order."""
        self.count += len(axes)
        turned = [np.asarray(a, dtype=np.float64) for a in axes]

        def share(k: int) -> list[Score]:
            return [self._rasters[k].score(a) for a in turned[k::_THREADS]]

        out: list[Score] = [None] * len(turned)  # type: ignore[list-item]
        with ThreadPoolExecutor(_THREADS) as pool:
            for k, part in enumerate(pool.map(share, range(_THREADS))):
                out[k::_THREADS] = part
        return out


def equal_fill_mm3(volume_mm3: float, least_mm3: float) -> float:
    """Fill up to which an axis counts as no worse than the best: a millionth of the object, or 2 % more."""
    return 1.02 * least_mm3 + 1e-6 * volume_mm3


def search(
    whole: Scorer, light: Scorer, suggestions: Sequence[Candidate], volume_mm3: float, progress: Progress
) -> list[Ranked]:
    """Axes of the whole mesh by fill, least first; every suggestion of promise among them.

    The light mesh ranks `SAMPLED_AXES` even axes and the suggestions; the best are refined there, 5 degrees
    down to about half a degree, and then scored and refined on the whole mesh.
    """
    even = [Candidate(_vector(a), "sampled") for a in fibonacci_axes(SAMPLED_AXES)]
    pool = [*suggestions, *even]
    scores: list[Score] = []
    for k in range(0, len(pool), 32):
        scores.extend(light([c.axis for c in pool[k : k + 32]]))
        progress("survey", 0.4 * len(scores) / len(pool))
    found = [Ranked(c, s) for c, s in zip(pool, scores, strict=True)]
    nothing = equal_fill_mm3(volume_mm3, 0.0)
    best = apart(by_fill(found), _STARTS, _APART_DEG)
    for k, start in enumerate(best):
        if start.score.fill_mm3 > nothing:
            found.append(_descend(light, start, _STEPS_DEG, nothing))
        progress("survey", 0.4 + 0.2 * (k + 1) / len(best))
    # the same ranking decides which axes the whole mesh is looked at along
    chosen = apart(by_fill(found), _WHOLE_AXES, _APART_DEG)
    must = [r for r in found[: len(suggestions)] if r.candidate.why in ("asked", "upright")]
    flat_out = by_fill(found[: len(suggestions)])[:_WHOLE_AXES]
    tried = _distinct([r.candidate for r in (*must, *flat_out, *chosen)])
    ranked = [Ranked(c, s) for c, s in zip(tried, whole([c.axis for c in tried]), strict=True)]
    progress("survey", 0.75)
    for start in apart(by_fill(ranked), _WHOLE_STARTS, _APART_DEG):
        if start.score.fill_mm3 > nothing:
            ranked.append(_descend(whole, start, _FINE_STEPS_DEG, nothing))
    progress("survey", 0.85)
    return by_fill(ranked)


def apart(ranked: Sequence[Ranked], most: int, least_deg: float) -> list[Ranked]:
    """The first `most` axes, in order, that stand at least `least_deg` from every one before."""
    close = np.cos(np.radians(least_deg))
    out: list[Ranked] = []
    for r in ranked:
        if len(out) == most:
            break
        if all(abs(float(np.dot(r.candidate.axis, o.candidate.axis))) < close for o in out):
            out.append(r)
    return out


def by_fill(found: Sequence[Ranked]) -> list[Ranked]:
    """Least fill first; at equal fill the earlier."""
    return sorted(found, key=lambda r: r.score.fill_mm3)


def _descend(scorer: Scorer, start: Ranked, steps_deg: Sequence[float], enough_mm3: float) -> Ranked:
    """The least fill met walking from `start` with ever smaller steps."""
    best = start
    for step in steps_deg:
        for _ in range(_MOVES):
            if best.score.fill_mm3 <= enough_mm3:
                return best
            ring = around(np.array(best.candidate.axis), step, 6)
            scores = scorer(ring)
            k = int(np.argmin([s.fill_mm3 for s in scores]))
            if scores[k].fill_mm3 >= best.score.fill_mm3:
                break
            best = Ranked(Candidate(_vector(ring[k]), "refined"), scores[k])
    return best


def _distinct(candidates: Sequence[Candidate]) -> list[Candidate]:
    out: list[Candidate] = []
    same = np.cos(np.radians(0.02))
    for c in candidates:
        if all(abs(float(np.dot(c.axis, o.axis))) < same for o in out):
            out.append(c)
    return out


def facing(candidate: Candidate, up: Vector) -> Candidate:
    """The candidate with its axis turned to the side of `up`; one that was asked for stays as it is."""
    if candidate.why == "asked" or float(np.dot(candidate.axis, up)) >= -1e-9:
        return candidate
    return replace(candidate, axis=_vector(-np.array(candidate.axis)))


def _vector(a: Floats) -> Vector:
    return (float(a[0]), float(a[1]), float(a[2]))
