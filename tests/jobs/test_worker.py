"""Work in a child process: results, errors, limits, and that nothing outlives it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

import claybed
from claybed.errors import Cancelled, CannotError, InputError
from claybed.jobs.limits import Limit
from claybed.jobs.worker import Job, run_job

HERE = Path(__file__).parent


def alive(pid: int) -> bool:
    """Tell whether a process runs, not counting one that is dead and waits to be collected."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state not in "ZX"


def wait_until(true, seconds: float = 120.0) -> bool:
    """Poll until `true()` holds or the time is up; return whether it held."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.02)
    return bool(true())


def pids_in(path: Path) -> list[int]:
    """Wait for what a target writes and return its process numbers."""
    assert wait_until(lambda: path.exists() and len(path.read_text().splitlines()) == 2)
    return [int(word) for word in path.read_text().splitlines()[0].split()]


@pytest.fixture(autouse=True)
def _targets_on_path(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(HERE))


def test_result_and_progress_come_back_in_order() -> None:
    """The target's result comes back and every new phase is reported, whatever libraries print."""
    steps: list[tuple[str, float]] = []
    result = run_job("job_targets:double", 21, on_progress=lambda phase, done: steps.append((phase, done)))
    assert result == 42
    assert steps == [("reading", 0.0), ("reading", 1.0), ("making", 0.5)]


def test_error_for_a_person_comes_back_unchanged() -> None:
    """A ClaybedError keeps its kind, what, where and remedy across the process border."""
    with pytest.raises(CannotError) as caught:
        run_job("job_targets:refuse", "pot.stl")
    assert (caught.value.what, caught.value.where, caught.value.remedy) == (
        "needs three pieces.",
        "pot.stl",
        "Give another axis.",
    )


@pytest.mark.parametrize(("phase", "kind"), [("reading", InputError), ("making", CannotError)])
def test_fault_becomes_one_line(phase: str, kind: type[Exception]) -> None:
    """Any other exception is one line for the person, by phase, with the trace kept as a note."""
    with pytest.raises(kind) as caught:
        run_job("job_targets:fault", phase, where="pot.stl")
    assert "pot.stl" in str(caught.value)
    assert "IndexError: row 7 of 3" in str(caught.value)
    assert "\n" not in str(caught.value)
    assert any("job_targets.py" in note for note in caught.value.__notes__)


@pytest.mark.parametrize(("phase", "kind"), [("reading", InputError), ("making", CannotError)])
def test_crash_becomes_an_error(phase: str, kind: type[Exception]) -> None:
    """A segmentation fault in the child is an error here, not a crash."""
    with pytest.raises(kind, match="SIGSEGV"):
        run_job("job_targets:crash", phase, where="pot.stl")


def test_silent_end_becomes_an_error() -> None:
    """A child that ends without a result is reported with its exit code."""
    with pytest.raises(CannotError, match="exit 9"):
        run_job("job_targets:leave", 9)


def test_result_that_cannot_travel_is_an_error() -> None:
    """A result that does not pickle is reported as a fault of the work."""
    with pytest.raises(CannotError, match="met a fault"):
        run_job("job_targets:unpicklable", None)


def test_missing_target_is_an_error() -> None:
    """A target that does not exist is reported, not waited for."""
    with pytest.raises(CannotError, match="ModuleNotFoundError"):
        run_job("job_targets_that_are_not:there", None)


def test_memory_limit_of_reading_is_an_input_error() -> None:
    """Reading that wants more memory than its phase allows is the file's fault."""
    with pytest.raises(InputError, match="more memory than the 600 MB"):
        run_job("job_targets:hoard", ("reading", 1000), phase_limits={"reading": Limit(memory_mb=600)})


def test_memory_limit_moves_with_the_phase() -> None:
    """A later phase may take more than reading may, and has a limit of its own."""
    limits = {"reading": Limit(memory_mb=500), "making": Limit(memory_mb=1200)}
    assert run_job("job_targets:hoard_in_turn", (50, 700), phase_limits=limits) == 700
    with pytest.raises(CannotError, match="1200 MB"):
        run_job("job_targets:hoard_in_turn", (50, 1300), phase_limits=limits)


def test_time_limit_of_reading(tmp_path: Path) -> None:
    """Reading that takes longer than its phase allows is stopped, with everything it started."""
    pids = tmp_path / "pids"
    with pytest.raises(InputError, match=r"longer than 0\.5 s"):
        run_job(
            "job_targets:linger",
            {"pids": str(pids), "phase": "reading"},
            phase_limits={"reading": Limit(seconds=0.5)},
        )
    assert wait_until(lambda: not any(alive(pid) for pid in pids_in(pids)))


def test_nothing_the_work_started_outlives_it() -> None:
    """A process left running by the target ends when the result is in."""
    pid = run_job("job_targets:spawn_and_return", None)
    assert wait_until(lambda: not alive(pid))


def test_threads_are_few_unless_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Libraries that reserve memory for each core are held to a few, and what a person set is kept."""
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    allowed = run_job("job_targets:threads_allowed", None)
    assert (allowed["OPENBLAS_NUM_THREADS"], allowed["OMP_NUM_THREADS"]) == ("1", "3")


def test_temporary_files_go_with_the_job() -> None:
    """What the work leaves among its temporary files is removed with it."""
    left = Path(run_job("job_targets:leave_temporary_file", None))
    assert not left.exists()
    assert not left.parent.exists()


def test_cancel_from_another_thread_is_at_once(tmp_path: Path) -> None:
    """`cancel` ends the child's whole group long before its work would end; `run` raises Cancelled."""
    pids = tmp_path / "pids"
    job = Job("job_targets:linger", {"pids": str(pids)})
    seen: list[int] = []

    def stop() -> None:
        seen.extend(pids_in(pids))
        job.cancel()

    thread = threading.Thread(target=stop)
    thread.start()
    with pytest.raises(Cancelled):
        job.run()
    # Were it not stopped, the child would wait for longer than a test may take.
    thread.join()
    assert wait_until(lambda: not any(alive(pid) for pid in seen))


def test_cancel_before_the_run_keeps_it_from_working(tmp_path: Path) -> None:
    """A job cancelled before it runs raises Cancelled and does nothing."""
    pids = tmp_path / "pids"
    job = Job("job_targets:linger", {"pids": str(pids)})
    job.cancel()
    with pytest.raises(Cancelled):
        job.run()
    assert not pids.exists()


PARENT = """
import sys
from pathlib import Path
sys.path.insert(0, {here!r})
from claybed.errors import Cancelled
from claybed.jobs.folder import new_folder
from claybed.jobs.worker import run_job
try:
    with new_folder(Path({final!r}), replace=False) as work:
        run_job("job_targets:linger", {{"pids": {pids!r}, "out": str(work)}})
except Cancelled:
    sys.exit(130)
"""


def start_parent(tmp_path: Path) -> tuple[subprocess.Popen[bytes], list[int], Path]:
    """Start a process that runs a lingering job into a folder; return it, the job's processes and the
    place.
    """
    place, pids = tmp_path / "place", tmp_path / "pids"
    place.mkdir()
    text = PARENT.format(here=str(HERE), final=str(place / "pot.claybed"), pids=str(pids))
    home = str(Path(claybed.__file__).parent.parent)
    parent = subprocess.Popen([sys.executable, "-c", text], env={**os.environ, "PYTHONPATH": home})
    return parent, pids_in(pids), place


def test_interrupt_leaves_nothing_behind(tmp_path: Path) -> None:
    """Ctrl-C ends every process of the job and leaves no file at all."""
    parent, pids, place = start_parent(tmp_path)
    parent.send_signal(signal.SIGINT)
    assert parent.wait(timeout=120) == 130
    assert wait_until(lambda: not any(alive(pid) for pid in pids))
    assert list(place.iterdir()) == []


def test_killed_parent_takes_the_work_with_it(tmp_path: Path) -> None:
    """After kill -9 of the parent no process of the job lives on, and the next run sweeps the half-made
    folder.
    """
    parent, pids, place = start_parent(tmp_path)
    scratch = Path((tmp_path / "pids").read_text().splitlines()[1])
    assert scratch.is_dir()
    parent.kill()
    parent.wait(timeout=120)
    assert wait_until(lambda: not any(alive(pid) for pid in pids))
    assert wait_until(lambda: not scratch.exists())
    assert not (place / "pot.claybed").exists()
    assert len(list(place.iterdir())) == 1
    from claybed.jobs.folder import new_folder

    with new_folder(place / "pot.claybed", replace=False) as work:
        (work / "plan.json").write_text("{}")
    assert [path.name for path in place.iterdir()] == ["pot.claybed"]


def test_modules_in_the_working_folder_are_not_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file named like a standard module, lying beside the person's models, is not run by the child."""
    (tmp_path / "colorsys.py").write_text("raise SystemExit('taken')")
    monkeypatch.chdir(tmp_path)
    assert str(tmp_path) not in run_job("job_targets:working_folder_module", None)


@pytest.mark.parametrize("bad", [{"seconds": 0}, {"seconds": -1.0}, {"memory_mb": 0}])
def test_limits_that_mean_nothing_are_refused(bad: dict[str, float]) -> None:
    """A limit of nothing or less is a mistake of the caller."""
    with pytest.raises(ValueError, match="above 0"):
        Limit(**bad)  # type: ignore[arg-type]
