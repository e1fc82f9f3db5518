"""The two pictures of the README, from the plan of the demonstration object: the object with its seam beside
the pieces apart, and the first page of the bench sheet.

Needs the test extra. Run after `make demo`:
.venv/bin/python tools/picture_plan.py demo-out/gourd.claybed docs/pictures
"""

from __future__ import annotations

import sys
from pathlib import Path

import pypdfium2
from PIL import Image

WIDE_PX = 1400
GAP_PX = 20
# Of the width, what the object with its seam takes.
SEAM_SHARE = 0.5
SHEET_WIDE_PX = 827
COLOURS = 256


def side_by_side(plan: Path) -> Image.Image:
    """The object with its seam and the pieces apart, on one white ground."""
    shown = []
    for name, wide in (("seam", SEAM_SHARE * WIDE_PX), ("exploded", (1.0 - SEAM_SHARE) * WIDE_PX - GAP_PX)):
        picture = Image.open(plan / "pictures" / f"{name}.png").convert("RGB")
        high = round(picture.height * wide / picture.width)
        shown.append(picture.resize((round(wide), high), Image.Resampling.LANCZOS))
    both = Image.new("RGB", (WIDE_PX, max(picture.height for picture in shown)), "white")
    both.paste(shown[0], (0, (both.height - shown[0].height) // 2))
    both.paste(shown[1], (WIDE_PX - shown[1].width, (both.height - shown[1].height) // 2))
    return both


def first_page(plan: Path) -> Image.Image:
    """The first page of the bench sheet."""
    page = pypdfium2.PdfDocument(plan / "sheets" / "bench-sheet.pdf")[0]
    return page.render(scale=SHEET_WIDE_PX / page.get_width()).to_pil().convert("RGB")


def main(plan: Path, folder: Path) -> None:
    """Write both pictures into `folder`."""
    for name, picture in (("demo", side_by_side(plan)), ("bench-sheet", first_page(plan))):
        # What is small and of its own colour, as the fill is, keeps it.
        few = picture.quantize(COLOURS, method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
        few.save(folder / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
