"""Stitched pieces against booleans that would make the same two-part split, in turn, in one process.

Run as `python benchmarks/stitching.py [--triangles 100000] [--repeats 5]`. The object is the figure of
whole_plan.py, its pull given. "Stitched" is model and both pieces laid together face by face from the sheets
and the parting surface; "with marks" also tells fill from object, turns all into the block and measures the
seam. The bare side makes a solid of the object, takes it out of the block and splits the rest along a plane,
which is less than the parting surface asks for. At least 5 times is wanted of the first ratio.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from whole_plan import BRIEF, bare, figure, now, silent

from claybed.flow import cutting, searching
from claybed.mold import pieces
from claybed.survey.surveying import survey

LEAST_TIMES = 5.0
STITCHING = ("solid_between", "_under_plane")


@contextmanager
def timed(spent: dict[str, float]) -> Iterator[None]:
    """Processor seconds of stitching, and of the whole cut, while a mold is made; the last cut counts."""
    plain = {name: getattr(pieces, name) for name in STITCHING}
    whole = cutting.cut_block

    def stitch(function: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: object, **kwargs: object) -> object:
            start = now()
            try:
                return function(*args, **kwargs)
            finally:
                spent["stitched"] += (now() - start).busy_s

        return call

    def cut(*args: Any, **kwargs: Any) -> Any:
        spent["stitched"] = 0.0
        start = now()
        try:
            return whole(*args, **kwargs)
        finally:
            spent["marked"] = (now() - start).busy_s

    try:
        for name, function in plain.items():
            setattr(pieces, name, stitch(function))
        cutting.cut_block = cut
        yield
    finally:
        for name, function in plain.items():
            setattr(pieces, name, function)
        cutting.cut_block = whole


def main() -> int:
    """Print the table; 1 when stitching is less than five times as fast."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--triangles", default="100000", help="of the figure, about")
    asked.add_argument("--repeats", type=int, default=5)
    options = asked.parse_args()
    fine = True
    for size in map(int, options.triangles.split(",")):
        obj = figure(size)
        found = survey(obj, BRIEF, progress=silent)
        searching.make_mold(obj, found, BRIEF, progress=silent)
        rows = []
        for _ in range(options.repeats):
            spent: dict[str, float] = {}
            with timed(spent):
                made = searching.make_mold(obj, found, BRIEF, progress=silent)
            rows.append((spent["stitched"], spent["marked"], bare(obj, made.assembly).busy_s))
        stitched, marked, booleans = (statistics.median(column) for column in zip(*rows, strict=True))
        ratio = statistics.median(row[2] / row[0] for row in rows)
        fine &= ratio >= LEAST_TIMES
        print(
            f"{len(obj.mesh.faces):>9,} triangles: stitched {stitched:.3f} s, with marks {marked:.3f} s, "
            f"booleans {booleans:.3f} s of processor: {ratio:.1f} times, {booleans / marked:.1f} with marks "
            f"(load {os.getloadavg()[0]:.1f})"
        )
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
