"""What a visitor may do: the keeper changes, the bench logs, a tag shows its own mold."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, HTTPException

from claybed.web.studio import Studio
from claybed.web.visiting import Visitor, studio_of, visitor_of


def looking(visitor: Annotated[Visitor, Depends(visitor_of)]) -> Visitor:
    """Let in who may see lists and plans."""
    if not visitor.may_look:
        raise HTTPException(401, "This device is not let in yet. Scan the code that claybed serve shows.")
    return visitor


def changing(visitor: Annotated[Visitor, Depends(looking)]) -> Visitor:
    """Let in who may change and delete."""
    if not visitor.may_change:
        raise HTTPException(403, "Only the keeper may change this. Ask at the studio's own machine.")
    return visitor


Looking = Annotated[Visitor, Depends(looking)]
Changing = Annotated[Visitor, Depends(changing)]
Anyone = Annotated[Visitor, Depends(visitor_of)]
InStudio = Annotated[Studio, Depends(studio_of)]
