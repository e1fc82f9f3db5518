"""A number that carries its working from the stage that found it to whoever shows it."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.records.figure import Worked


@dataclass(frozen=True, slots=True)
class Reckoned(Worked):
    """One number and how it came about, to be reckoned with further; its unit and bounds are the figure's."""

    value: float

    @property
    def low(self) -> float:
        """The lower bound, the value itself when it is taken at its word."""
        return self.value if self.figure.low is None else self.figure.low

    @property
    def high(self) -> float:
        """The upper bound, the value itself when it is taken at its word."""
        return self.value if self.figure.high is None else self.figure.high
