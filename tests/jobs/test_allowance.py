"""A phase is late by what it worked, not by what else the machine had to do."""

from __future__ import annotations

import os

import pytest

from claybed.jobs.allowance import Allowance, worked_s


class Machine:
    """A clock, and a process that works a share of the time."""

    def __init__(self) -> None:
        self.now_s = 500.0
        self.used_s: float | None = 3.0

    def go(self, seconds: float, share: float) -> None:
        """Let time go by while the process gets that share of a processor."""
        self.now_s += seconds
        if self.used_s is not None:
            self.used_s += share * seconds

    def allow(self, seconds: float) -> Allowance:
        """An allowance that begins now."""
        return Allowance(seconds, lambda: self.used_s, lambda: self.now_s)


@pytest.mark.parametrize(("share", "ends_s"), [(1.0, 20.0), (0.5, 40.0), (0.25, 80.0), (0.0, 100.0)])
def test_it_ends_when_the_work_is_done_or_the_wait_is_long(share: float, ends_s: float) -> None:
    """Twenty seconds of work at any share of the machine, but never more than a hundred on the clock."""
    machine = Machine()
    allowance = machine.allow(20.0)
    machine.go(ends_s - 1.0, share)
    assert allowance.left_s() > 0.0
    machine.go(1.0, share)
    assert allowance.left_s() == 0.0


def test_threads_at_work_together_end_it_sooner() -> None:
    """Four processors at once use it up in a quarter of the time."""
    machine = Machine()
    allowance = machine.allow(20.0)
    machine.go(5.0, 4.0)
    assert allowance.left_s() == 0.0


def test_without_knowing_the_work_the_clock_counts() -> None:
    """Where the system does not tell what was worked, the seconds are those of the clock."""
    machine = Machine()
    machine.used_s = None
    allowance = machine.allow(20.0)
    machine.go(19.0, 0.0)
    assert allowance.left_s() == pytest.approx(1.0)
    machine.go(1.0, 0.0)
    assert allowance.left_s() == 0.0


def test_the_work_of_a_process_is_known() -> None:
    """This process has worked, as its own count says; a process that is none has not."""
    told = worked_s(os.getpid())
    if told is None:
        pytest.skip("this system does not tell what a process worked")
    own = os.times()
    assert told == pytest.approx(own.user + own.system, abs=1.0)
    assert worked_s(2**22 + 1) is None
