"""What the JSON addresses answer when something cannot be done.

Only they promise it: told to every page as well, it would be prepared for each of them at every start.
"""

from __future__ import annotations

from typing import Any, Final

from pydantic import BaseModel


class Trouble(BaseModel):
    """What the JSON addresses answer when something cannot be done: `says` why and what to do."""

    says: str


TROUBLES: Final[dict[int | str, dict[str, Any]]] = {
    status: {"model": Trouble, "description": words}
    for status, words in {
        400: "What was sent cannot be used.",
        401: "This device is not let in.",
        403: "This visitor may not do that.",
        404: "There is no such thing.",
        409: "Somebody else saved it meanwhile.",
        413: "It is too large.",
        422: "What was sent cannot be read.",
    }.items()
}
