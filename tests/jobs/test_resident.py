"""A child that stays: it tells how far it is with getting ready, then answers."""

from __future__ import annotations

import time
from pathlib import Path

from claybed.jobs.resident import Resident


def test_it_tells_how_far_it_is_and_then_answers(tmp_path: Path) -> None:
    """While it gets ready its phase and share can be read; then it answers questions."""
    go = tmp_path / "go"
    resident = Resident("job_targets:make_slow_answer", {"go": str(go)})
    try:
        until = time.monotonic() + 120.0
        while resident.done != 0.5 and time.monotonic() < until:
            time.sleep(0.01)
        assert (resident.phase, resident.done, resident.is_ready) == ("mold", 0.5, False)
        go.touch()
        assert [resident.ask(3), resident.ask(4)] == [6, 8]
        assert resident.is_ready
    finally:
        resident.close()
