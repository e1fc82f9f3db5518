"""Whether a phase has had its time: by what it worked, so that a busy machine refuses nobody's file."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

# Work that waits instead of working ends after so many times its seconds on the clock.
_WAITS: Final = 5.0


def worked_s(pid: int) -> float | None:
    """Processor time that a process has used so far, s; None where the system does not tell."""
    try:
        words = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")
    except (OSError, ValueError, IndexError):
        return None


class Allowance:
    """The `seconds` of one phase, beginning now.

    They are over when that much has been worked, or when five times as much has gone by on the clock. Where
    `worked` tells nothing, the clock alone counts, once.
    """

    def __init__(
        self, seconds: float, worked: Callable[[], float | None], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._seconds = seconds
        self._worked = worked
        self._clock = clock
        self._began_s = clock()
        self._before_s = worked()

    def left_s(self) -> float:
        """The soonest that the allowance can be over, s from now; 0 when it is."""
        gone_s = self._clock() - self._began_s
        now_s = self._worked()
        if self._before_s is None or now_s is None:
            return max(0.0, self._seconds - gone_s)
        more_s = self._seconds - (now_s - self._before_s)
        return max(0.0, min(more_s, _WAITS * self._seconds - gone_s))
