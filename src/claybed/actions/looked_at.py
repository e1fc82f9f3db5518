"""What looking at an object leaves in its folder; apart from the work, so that pages need not load it."""

from __future__ import annotations

from typing import Final

SHAPE: Final = "shape.bin"
LIGHT: Final = "light.npz"
PICTURE: Final = "picture.png"
