"""The errors a person can meet, each with what happened, where, and what to do.

    ClaybedError
    ├── InputError     the input cannot be used            exit 2
    ├── CannotError    understood, but not possible        exit 3
    └── Cancelled      the person stopped it               exit 130

A plan that is written but must not be poured is not an error: it is a plan with a failed check, exit 4.
"""

from __future__ import annotations

EXIT_DONE = 0
EXIT_BAD_INPUT = 2
EXIT_CANNOT = 3
EXIT_NOT_READY = 4
EXIT_CANCELLED = 130


class ClaybedError(Exception):
    """Something a person can act on.

    `what` happened, `where` (file, option or place on the object), and `remedy`: what to do about it.
    """

    exit_code = EXIT_BAD_INPUT

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.remedy = remedy

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head} {self.remedy}".rstrip()

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (type(self), self.what, self.where, self.remedy))


class InputError(ClaybedError):
    """The input cannot be used as it is."""

    exit_code = EXIT_BAD_INPUT


class CannotError(ClaybedError):
    """The request is clear but cannot be met."""

    exit_code = EXIT_CANNOT


class Cancelled(ClaybedError):
    """The person stopped the work; nothing was left behind."""

    exit_code = EXIT_CANCELLED


def _rebuild(kind: type[ClaybedError], what: str, where: str, remedy: str) -> ClaybedError:
    return kind(what, where=where, remedy=remedy)
