"""What all tests share: the same examples on every machine, Ctrl-C for what tests start, and the browser."""

from __future__ import annotations

import os
import shutil
import signal
from pathlib import Path
from typing import Any

import pytest

# As in a job's process, and before anything loads numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import HealthCheck, settings
from playwright.sync_api import Browser, BrowserContext, expect

# No time is held against an example: a busy machine takes any time.
settings.register_profile(
    "same_everywhere", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("same_everywhere")

# A shell that starts the tests in the background lets them ignore Ctrl-C, and so would every child of theirs.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# Files that take longest, which begin first, so that the workers end together: each is run by one of them.
LONG = (
    "journeys/test_app_in_browser.py",
    "actions/test_plan_folder.py",
    "actions/test_mapping_casts.py",
    "actions/test_more_pieces.py",
    "journeys/",
    "actions/",
    "flow/",
    "intake/",
    "laws/",
    "photos/",
    "soaking/",
    "survey/",
    "web/",
)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put files that take long before the others, each with its tests together and in their order."""
    here = Path(__file__).parent

    def place(item: pytest.Item) -> tuple[int, str]:
        name = item.path.relative_to(here).as_posix()
        return next((k for k, long in enumerate(LONG) if name.startswith(long)), len(LONG)), name

    items.sort(key=place)


@pytest.fixture(scope="session")
def shared_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of this run that all of its processes share."""
    base = tmp_path_factory.getbasetemp()
    return base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base


@pytest.fixture(scope="session", autouse=True)
def _one_cache(shared_folder: Path) -> None:
    """What is worked out for one test serves the others, and nobody's own cache is read or filled."""
    os.environ["XDG_CACHE_HOME"] = str(shared_folder / "cache of all tests")


PATIENCE_MS = 120_000
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = [
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-first-run",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--host-resolver-rules=MAP studio.local 127.0.0.1",
]


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Use the browser of this machine; without one these tests are skipped and say so."""
    if CHROMIUM is None:
        pytest.skip("no Chromium here: the pages were not looked at")
    return {**browser_type_launch_args, "executable_path": CHROMIUM, "args": FLAGS}


@pytest.fixture(scope="session")
def browser(browser: Browser) -> Browser:
    """The browser, whose pages are waited for as long as a busy machine needs: nothing is about speed."""
    expect.set_options(timeout=PATIENCE_MS)
    plain = browser.new_context

    def patient(**options: Any) -> BrowserContext:
        made = plain(**options)
        made.set_default_timeout(PATIENCE_MS)
        return made

    browser.new_context = patient  # type: ignore[method-assign]
    return browser
