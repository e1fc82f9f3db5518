"""The printed mat that photographs are measured by: where its markers lie, and how they look."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class MatMarker:
    """One marker: its number, the place of its middle in mm, and its cells, row by row from the top.

    `dark` holds True for a printed cell, border included.
    """

    number: int
    x_mm: float
    y_mm: float
    dark: tuple[tuple[bool, ...], ...]


@dataclass(frozen=True, slots=True)
class Mat:
    """A mat on one sheet of paper, lengths in mm as they lie on the table.

    The frame: origin in the middle of the clear space, x to the right and y to the top of the sheet, z out of
    it. `paper` is the sheet's name; `left_mm` and `bottom_mm` reach from the origin to the sheet's edges, and
    `width_mm` x `height_mm` is its size. `marker_mm` is the side of a marker; the clear space reaches
    `clear_x_mm` and `clear_y_mm` from the origin; the check bar is `bar_mm` long.
    """

    paper: str
    width_mm: float
    height_mm: float
    left_mm: float
    bottom_mm: float
    marker_mm: float
    markers: tuple[MatMarker, ...]
    clear_x_mm: float
    clear_y_mm: float
    bar_mm: float

    def printed_at(self, scale: float) -> Mat:
        """The same mat as a printer made it, `scale` times its intended size."""
        return replace(
            self,
            width_mm=self.width_mm * scale,
            height_mm=self.height_mm * scale,
            left_mm=self.left_mm * scale,
            bottom_mm=self.bottom_mm * scale,
            marker_mm=self.marker_mm * scale,
            markers=tuple(replace(m, x_mm=m.x_mm * scale, y_mm=m.y_mm * scale) for m in self.markers),
            clear_x_mm=self.clear_x_mm * scale,
            clear_y_mm=self.clear_y_mm * scale,
            bar_mm=self.bar_mm * scale,
        )
