"""Reads every file of a folder under a memory limit and writes down how each ended; run as a program."""

from __future__ import annotations

import json
import resource
import sys
import time
from pathlib import Path

LIMIT_BYTES = 3 * 1024**3


def bytes_read() -> int:
    """How much this process has read so far; 0 where the system does not tell."""
    told = Path("/proc/self/io")
    return int(told.read_text().split()[1]) if told.exists() else 0


def main(folder: Path, report: Path) -> None:
    """One line of JSON per file: name, outcome, message, processor seconds, bytes that were read."""
    resource.setrlimit(resource.RLIMIT_AS, (LIMIT_BYTES, LIMIT_BYTES))
    from claybed.errors import InputError
    from claybed.intake.reading import read_object
    from claybed.records.brief import Brief

    with report.open("w", encoding="utf-8") as out:
        for path in sorted([*folder.iterdir(), folder / "missing.stl"]):
            began_s, before_bytes = time.process_time(), bytes_read()
            try:
                read_object(path, Brief(), progress=lambda step, part: None)
                outcome, message = "read", ""
            except InputError as error:
                outcome, message = "InputError", str(error)
            except BaseException as error:
                outcome, message = type(error).__name__, str(error)
            told = {
                "name": path.name,
                "outcome": outcome,
                "message": message,
                "processor_s": time.process_time() - began_s,
                "read_bytes": bytes_read() - before_bytes,
            }
            out.write(json.dumps(told) + "\n")
            out.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
