"""What the app has in hand to answer while somebody's hand moves: objects to turn, molds to measure anew."""

from __future__ import annotations

import contextlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from typing import Any, Final

from claybed.errors import CannotError, InputError
from claybed.jobs.resident import Resident

TURNER: Final = "claybed.actions.looking:make_turner"
BLOCKER: Final = "claybed.actions.reblocking:make_blocker"
# Of each kind, so that what costs a second to get ready again takes no place from what costs half a minute.
_MOST: Final = 3
# A mold that this machine has forgotten is cut anew before its block can be told.
_START_S: Final = 240.0
# Files of our own are not timed as those sent to the app are: a busy machine is late.
_PHASES: Final = {BLOCKER: "mold"}
_PHASE: Final = "turning"

Key = tuple[str, str]


class InHand:
    """Resident children by target and id; the one that was asked for longest ago makes room for a new one."""

    def __init__(self) -> None:
        self._residents: OrderedDict[Key, Resident] = OrderedDict()
        self._lock = threading.Lock()

    def ask(self, target: str, name: str, payload: Callable[[], Mapping[str, Any]], question: object) -> Any:
        """The answer of the child of this target and id, begun when there is none; None when overtaken.

        Raises the ClaybedError that the child met.
        """
        resident = self._found(target, name, payload)
        try:
            return resident.ask(question)
        except (InputError, CannotError):
            raise
        except Exception:
            self.let_go(target, name)
            raise

    def get_ready(
        self, target: str, name: str, payload: Callable[[], Mapping[str, Any]]
    ) -> tuple[bool, str, float]:
        """Begin it, if it is not; whether it answers at once, and else its phase and how far that is."""
        one = self._found(target, name, payload)
        return one.is_ready, one.phase, one.done

    def keep(self, target: str, name: str) -> bool:
        """Whether it answers at once; if so it is now the last to make room."""
        key = (target, name)
        with self._lock:
            resident = self._residents.get(key)
            if resident is None or resident.is_over:
                return False
            self._residents.move_to_end(key)
            return resident.is_ready

    def let_go(self, target: str, name: str) -> None:
        """End one, if it is there."""
        with self._lock:
            resident = self._residents.pop((target, name), None)
        if resident is not None:
            _end(resident)

    def let_go_of_all(self) -> None:
        """End them all."""
        with self._lock:
            residents = list(self._residents.values())
            self._residents.clear()
        for resident in residents:
            _end(resident)

    def _found(self, target: str, name: str, payload: Callable[[], Mapping[str, Any]]) -> Resident:
        """The child of this target and id; one that has ended, as when it failed to start, is begun anew."""
        key = (target, name)
        with self._lock:
            resident = self._residents.pop(key, None)
            old = []
            if resident is not None and resident.is_over:
                old.append(resident)
                resident = None
            if resident is None:
                resident = Resident(target, payload(), phase=_PHASES.get(target, _PHASE), start_s=_START_S)
            self._residents[key] = resident
            same = [other for other in self._residents if other[0] == target]
            old += [self._residents.pop(other) for other in same[:-_MOST]]
        for one in old:
            _end(one)
        return resident


def _end(resident: Resident) -> None:
    with contextlib.suppress(OSError):
        resident.close()
