"""Printed cases of a plan: made in a process of their own, kept beside the plan's folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from claybed.jobs.folder import new_folder
from claybed.records.case_ask import CaseAsk
from claybed.register import keeping
from claybed.register.opening import Row
from claybed.web.board import Result, Runner
from claybed.web.studio import Studio

KIND: Final = "cases"
_TARGET: Final = "claybed.actions.casing:run"


def case_folder(studio: Studio, plan: Row) -> Path:
    """Where the cases of a plan lie: beside its folder, which stays as it was made."""
    folder = studio.plan_folder(plan)
    return folder.with_name(f"{folder.name}-cases")


def begin(studio: Studio, plan_id: str, ask: CaseAsk, *, us: bool) -> str:
    """Begin to make the cases of a plan, in place of those made before, and return the job's id."""
    with studio.register.reading() as db:
        plan = keeping.one_plan(db, plan_id)
    studio.document(plan)
    order = {
        "plan": studio.plan_folder(plan),
        "ask": ask,
        "paper": "us-letter" if us else "a4",
        "units": "us" if us else "metric",
    }

    def work(run: Runner) -> Result:
        with new_folder(case_folder(studio, plan), replace=True) as out:
            run(_TARGET, {**order, "out": out}, "the plan")
        return {"plan": plan_id, "cases": True}

    return studio.board.start(KIND, plan_id, work)


def made_cases(studio: Studio, plan: Row) -> dict[str, Any] | None:
    """cases.json of a plan's cases, or None when there are none that can be read."""
    try:
        found = json.loads((case_folder(studio, plan) / "cases.json").read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) and found.get("cases") else None
