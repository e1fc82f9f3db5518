"""What the app loads before its first page: little, so that it is there at once."""

from __future__ import annotations

import subprocess
import sys

HEAVY = ("numpy", "scipy", "numba", "trimesh", "shapely", "manifold3d", "PIL", "cv2", "segno", "typst")
LATE = ("claybed.actions.mixing", "claybed.records.plan_schema", "claybed.records.bench")


def test_the_first_page_needs_no_arrays_and_no_stage() -> None:
    """Putting the app together loads no library that works with shapes, and nothing that plans."""
    code = f"import sys, claybed.web.app; print([m for m in {HEAVY + LATE!r} if m in sys.modules])"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"
