"""Reads every file of a folder under a memory limit and writes down how each ended; run as a program."""

from __future__ import annotations

import json
import resource
import sys
import time
from pathlib import Path

LIMIT_BYTES = 3 * 1024**3


def main(folder: Path, report: Path) -> None:
    """One line of JSON per file: name, outcome, message, seconds."""
    resource.setrlimit(resource.RLIMIT_AS, (LIMIT_BYTES, LIMIT_BYTES))
    from claybed.errors import InputError
    from claybed.intake.reading import read_object
    from claybed.records.brief import Brief

    with report.open("w", encoding="utf-8") as out:
        for path in sorted([*folder.iterdir(), folder / "missing.stl"]):
            began = time.perf_counter()
            try:
                read_object(path, Brief(), progress=lambda step, part: None)
                outcome, message = "read", ""
            except InputError as error:
                outcome, message = "InputError", str(error)
            except BaseException as error:
                outcome, message = type(error).__name__, str(error)
            took = time.perf_counter() - began
            out.write(
                json.dumps({"name": path.name, "outcome": outcome, "message": message, "s": took}) + "\n"
            )
            out.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
