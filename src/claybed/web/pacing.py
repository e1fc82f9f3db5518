"""How quickly one caller may ask: a store of requests that fills again, and wrong codes that wait longer.

Both take the clock they go by, seconds that only grow, so that nothing here depends on when it is asked.
"""

from __future__ import annotations

import math
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from typing import Final

Clock = Callable[[], float]

_PER_MINUTE: Final = 900
_MOST_CALLERS: Final = 4096
_FREE_TRIES: Final = 5
_MOST_WAIT_S: Final = 300.0


class Pace:
    """Lets each caller ask `per_minute` times at once, and as many again in every minute that follows.

    A store that fills evenly (token bucket) rather than a count for each minute: a count lets twice as many
    through around the turn of a minute as it does within one.
    """

    def __init__(self, *, per_minute: int = _PER_MINUTE, clock: Clock = time.monotonic) -> None:
        self._most = float(per_minute)
        self._per_s = per_minute / 60.0
        self._clock = clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait_s(self, caller: str) -> int:
        """Count one request of `caller`: 0 when it may pass, else the whole seconds until one may."""
        now_s = self._clock()
        left, seen_s = self._left.pop(caller, (self._most, now_s))
        left = min(self._most, left + self._per_s * (now_s - seen_s))
        passes = left >= 1.0
        self._left[caller] = (left - 1.0 if passes else left, now_s)
        if len(self._left) > _MOST_CALLERS:
            self._left.popitem(last=False)
        return 0 if passes else max(1, math.ceil((1.0 - left) / self._per_s))


class Patience:
    """Makes wrong codes wait longer each time, for each caller."""

    def __init__(self, *, clock: Clock = time.monotonic) -> None:
        self._clock = clock
        self._wrong: OrderedDict[str, tuple[int, float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, caller: str) -> float:
        """How long the caller must still wait, s; 0 when it may try."""
        with self._lock:
            count, last_s = self._wrong.get(caller, (0, 0.0))
        if count <= _FREE_TRIES:
            return 0.0
        # Past a few hundred tries the power would leave the range of a float.
        due_s: float = min(_MOST_WAIT_S, 2.0 ** min(64, count - _FREE_TRIES))
        return max(0.0, last_s + due_s - self._clock())

    def note_wrong(self, caller: str) -> None:
        """A wrong code came from the caller."""
        with self._lock:
            count, _ = self._wrong.pop(caller, (0, 0.0))
            self._wrong[caller] = (count + 1, self._clock())
            while len(self._wrong) > _MOST_CALLERS:
                self._wrong.popitem(last=False)
