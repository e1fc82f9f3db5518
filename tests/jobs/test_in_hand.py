"""What the app has in hand: three of each kind, the one seen last stays, what ended is begun anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from claybed.errors import CannotError, InputError
from claybed.web import in_hand
from claybed.web.in_hand import InHand

SLOW = "job_targets:make_slow_answer"


class Child:
    """Stands in for a child process: ready at once, until it is closed."""

    def __init__(self, target: str, payload: object, *, phase: str, start_s: float) -> None:
        self.phase, self.done = phase, 0.0
        self.is_ready, self.is_over = True, False

    def ask(self, question: object) -> tuple[object, int]:
        """The question, and which child this is."""
        return question, id(self)

    def close(self) -> None:
        """End it."""
        self.is_over = True


def test_the_oldest_of_a_kind_makes_room(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fourth mold takes the place of the one asked for longest ago, never that of an object; a page that is
    open keeps its own, and begins nothing by that.
    """
    monkeypatch.setattr(in_hand, "Resident", Child)
    held = InHand()
    for name in ("one", "two", "three"):
        held.ask("molds", name, dict, 0)
        held.ask("objects", name, dict, 0)
    assert held.keep("molds", "one")
    held.ask("molds", "four", dict, 0)
    assert [held.keep("molds", name) for name in ("one", "two", "three", "four")] == [True, False, True, True]
    assert [held.keep("objects", name) for name in ("one", "two", "three", "four")] == [True] * 3 + [False]
    held.let_go_of_all()
    assert not held.keep("molds", "one")


def test_what_could_not_start_is_begun_anew(tmp_path: Path) -> None:
    """A child that failed to get ready tells why once to each who asks, and does not stay in the way."""
    held, wrong = InHand(), {"go": None}
    try:
        for _ in range(2):
            with pytest.raises((InputError, CannotError)):
                held.ask(SLOW, "mold", lambda: wrong, 1)
            assert not held.keep(SLOW, "mold")
        (tmp_path / "go").touch()
        assert held.ask(SLOW, "mold", lambda: {"go": str(tmp_path / "go")}, 4) == 8
        assert held.keep(SLOW, "mold")
    finally:
        held.let_go_of_all()
