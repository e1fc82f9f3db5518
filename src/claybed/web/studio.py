"""What every page works with: the register, the folders beside it, the work under way, objects in hand."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Final

from claybed.actions.asking import brief_from
from claybed.actions.looked_at import LIGHT
from claybed.errors import CannotError, InputError
from claybed.jobs.folder import new_folder
from claybed.records.brief import Brief
from claybed.records.tidying import Wishes
from claybed.register import keeping
from claybed.register.copies import restore
from claybed.register.opening import Register, Row
from claybed.register.working import note_interrupted
from claybed.web.board import Board, Result, Runner, now_text
from claybed.web.in_hand import BLOCKER, TURNER, InHand
from claybed.web.settings import Settings
from claybed.web.whole_copy import FOLDERS, REGISTER
from claybed.web.whole_return import bring_back, go_on, is_whole

if TYPE_CHECKING:
    from claybed.records.soaked import MapAsk

KINDS: Final = (
    ".stl", ".obj", ".ply", ".glb", ".gltf", ".3mf", ".step", ".stp", ".claybed",
)  # fmt: skip
TOLD: Final = "told.json"


class Studio:
    """The app's state. `data` holds register.sqlite, objects/ID/, plans/ID/ and photos/."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.register = Register(settings.data / REGISTER)
        go_on(self.register, settings.data)
        self.board = Board(self.register)
        self._in_hand = InHand()
        for name in FOLDERS:
            (settings.data / name).mkdir(exist_ok=True, mode=0o700)

    def close(self) -> None:
        """Stop all work and let go of what is in hand."""
        self.board.close()
        self._in_hand.let_go_of_all()

    def bring_back(self, file: IO[bytes]) -> None:
        """Take a backup in place of what is here: a whole studio, or a register alone.

        Raises CannotError while there is work under way, and as whole_return and copies do.
        """
        if self.board.is_busy:
            raise CannotError(
                "there is work under way, which a backup would take the ground from.",
                remedy="Wait until it is done, or stop it. Nothing was changed.",
            )
        if is_whole(file):
            bring_back(self.register, self.settings.data, file)
        else:
            with tempfile.TemporaryDirectory(prefix="claybed-") as folder:
                copy = Path(folder) / "the backup"
                with copy.open("wb") as out:
                    shutil.copyfileobj(file, out, 1 << 20)
                restore(self.register, copy)
        self._in_hand.let_go_of_all()
        with self.register.writing() as db:
            note_interrupted(db, now=now_text())

    def object_folder(self, object_id: str) -> Path:
        """Where the files of an object lie."""
        return self.settings.data / "objects" / object_id

    def told(self, object_id: str) -> dict[str, Any] | None:
        """What is known of an object without a shape; None when it has one, or is not measured yet."""
        place = self.object_folder(object_id) / TOLD
        if not place.is_file():
            return None
        known: dict[str, Any] = json.loads(place.read_text("utf-8"))
        return known

    def plan_folder(self, plan: Row) -> Path:
        """Where the folder of a plan lies."""
        return self.settings.data / str(plan["folder"])

    def document(self, plan: Row) -> dict[str, Any]:
        """plan.json of a plan. Raises InputError when its folder is gone or damaged."""
        try:
            found: dict[str, Any] = json.loads((self.plan_folder(plan) / "plan.json").read_text("utf-8"))
        except (OSError, ValueError) as error:
            raise InputError(
                "the folder of this plan is gone or damaged.",
                where=str(plan["folder"]),
                remedy="Plan the mold again; the object is still here.",
            ) from error
        return found

    def take_in(
        self,
        *,
        name: str,
        how: str,
        file: Path,
        suffix: str,
        typed: Mapping[str, Any],
        rough: Wishes | None = None,
    ) -> tuple[str, str]:
        """Keep a file, which is moved, as an object; begin its survey; return the ids of object and job.

        With `rough` the file is a scan that is tidied first; the scan itself is kept beside the object.
        """
        brief = brief_from(typed)  # refused before anything is kept
        if rough is not None:
            return self._tidy(name, file, suffix, typed, brief, rough)
        kept = f"{file_name(name)}{suffix}"
        with self.register.writing() as db:
            object_id = keeping.add_object(db, name=name, how=how, file=kept, now=now_text(), brief=typed)
            folder = self.object_folder(object_id)
            folder.mkdir(mode=0o700)
            shutil.move(file, folder / kept)
        return object_id, self.survey(object_id)

    def _tidy(
        self, name: str, file: Path, suffix: str, typed: Mapping[str, Any], brief: Brief, rough: Wishes
    ) -> tuple[str, str]:
        """Keep a rough scan, have an object file made of it, and survey that."""
        kept = f"{file_name(name)}.claybed"
        # The object file is of one body, has its true size and stands up, so none of it is asked again.
        done = ("height_mm", "unit", "up", "body")
        later = {field: value for field, value in typed.items() if field not in done}
        with self.register.writing() as db:
            object_id = keeping.add_object(db, name=name, how="scan", file=kept, now=now_text(), brief=later)
            folder = self.object_folder(object_id)
            folder.mkdir(mode=0o700)
            shutil.move(file, folder / f"scan{suffix}")

        def work(run: Runner) -> Result:
            part = folder / f".{kept}.part"
            payload = {
                "path": folder / f"scan{suffix}",
                "brief": brief,
                "wishes": rough,
                "mass_g": brief.mass_g,
            }
            run("claybed.actions.scanning:run", {**payload, "out": part, "name": file_name(name)}, name)
            part.replace(folder / kept)
            asked = {"path": folder / kept, "brief": brief_from(later), "out": folder}
            document = run("claybed.actions.looking:run", asked, name)
            with self.register.writing() as db:
                keeping.note_survey(db, object_id, document, "picture.png")
            return {"object": object_id}

        return object_id, self.board.start("survey", object_id, work)

    def make(
        self,
        *,
        name: str,
        how: str,
        target: str,
        payload: Mapping[str, Any],
        typed: Mapping[str, Any],
        readings: str | None = None,
        source: tuple[Path, str] | None = None,
    ) -> str:
        """Have `target` write an object file from `payload`, keep and survey it; return the object's id.

        The target is handed the payload with "out" and "name", as for `claybed object`; `readings`, or the
        file `source` with the name it came by, which is moved, are kept beside the object and handed on as
        "path". An object without a shape is not surveyed; what is known of it is kept as told.json.
        """
        brief = brief_from(typed)
        kept = f"{file_name(name)}.claybed"
        with self.register.writing() as db:
            object_id = keeping.add_object(db, name=name, how=how, file=kept, now=now_text(), brief=typed)
        folder = self.object_folder(object_id)
        folder.mkdir(mode=0o700)

        order = dict(payload)
        if readings is not None:
            (folder / "readings.csv").write_text(readings, "utf-8")
            order["path"] = folder / "readings.csv"
        if source is not None:
            given = Path(source[1])
            order["path"] = folder / "source" / f"{file_name(given.stem)}{given.suffix.casefold()}"
            order["path"].parent.mkdir(mode=0o700)
            shutil.move(source[0], order["path"])

        def work(run: Runner) -> Result:
            part = folder / f".{kept}.part"
            try:
                told = run(target, {**order, "out": part, "name": file_name(name)}, name)
                part.replace(folder / kept)
            finally:
                part.unlink(missing_ok=True)
            if told["mesh"] is None:
                (folder / TOLD).write_text(json.dumps(told, ensure_ascii=False), "utf-8")
                return {"object": object_id}
            asked = {"path": folder / kept, "brief": brief, "out": folder}
            document = run("claybed.actions.looking:run", asked, name)
            with self.register.writing() as db:
                keeping.note_survey(db, object_id, document, "picture.png")
            return {"object": object_id}

        self.board.start("survey", object_id, work)
        return object_id

    def survey(self, object_id: str, typed: Mapping[str, Any] | None = None) -> str:
        """Begin to survey an object and return the job's id; `typed` replaces what was asked of it before."""
        with self.register.writing() as db:
            thing = keeping.one_object(db, object_id)
            if typed is not None:
                keeping.ask_anew(db, object_id, typed)
        asked = thing["brief"] if typed is None else dict(typed)
        brief = brief_from(asked)
        folder = self.object_folder(object_id)

        def work(run: Runner) -> Result:
            self._in_hand.let_go(TURNER, object_id)
            payload = {"path": folder / thing["file"], "brief": brief, "out": folder}
            document = run("claybed.actions.looking:run", payload, thing["name"])
            with self.register.writing() as db:
                keeping.note_survey(db, object_id, document, "picture.png")
            return {"object": object_id}

        return self.board.start("survey", object_id, work)

    def plan(self, object_id: str, typed: Mapping[str, Any], kept: Mapping[str, Any] | None = None) -> str:
        """Begin to plan a mold of an object and return the job's id.

        `kept` are fields of the brief that the studio's file gives; what was typed comes before them.
        """
        with self.register.reading() as db:
            thing = keeping.one_object(db, object_id)
        asked = {**thing["brief"], **typed}
        brief = brief_from(asked, dict(kept or {}))
        source = self.object_folder(object_id) / thing["file"]

        def work(run: Runner) -> Result:
            digest = hashlib.sha256(f"{object_id} {now_text()}".encode()).hexdigest()[:12]
            relative = f"plans/{object_id}-{digest}"
            place = self.settings.data / relative
            place.parent.mkdir(parents=True, exist_ok=True)
            with new_folder(place, replace=False) as folder:
                payload = {
                    "path": source,
                    "out": folder,
                    "brief": brief,
                    "units": "us" if self.settings.us else "metric",
                }
                document = run("claybed.actions.planning:run", payload, thing["name"])
                text = (folder / "plan.json").read_bytes()
            entry = keeping.PlanEntry(
                folder=relative,
                brief=asked,
                sha256=hashlib.sha256(text).hexdigest(),
                ready=bool(document["ready"]),
                summary=summary_of(document),
            )
            with self.register.writing() as db:
                plan_id = keeping.add_plan(db, object_id, entry, now=now_text())
            return {"plan": plan_id, "object": object_id}

        return self.board.start("plan", object_id, work)

    def map_casts(self, plan_id: str, ask: MapAsk) -> str:
        """Begin to simulate the casts of a plan's mold and return the job's id; kept with the plan."""
        with self.register.reading() as db:
            plan = keeping.one_plan(db, plan_id)
        folder = self.plan_folder(plan)
        self.document(plan)

        def work(run: Runner) -> Result:
            with new_folder(self.map_folder(plan), replace=True) as out:
                run("claybed.actions.mapping_casts:run", {"plan": folder, "out": out, "ask": ask}, "the plan")
            return {"plan": plan_id}

        return self.board.start("map", plan_id, work)

    def map_folder(self, plan: Row) -> Path:
        """Where the wall map of a plan lies: beside its folder, which stays as it was made."""
        folder = self.plan_folder(plan)
        return folder.with_name(f"{folder.name}-cast-map")

    def turn(self, object_id: str, axis: tuple[float, float, float]) -> bytes | None:
        """How the object is reached along `axis`, as actions.looking says; None when overtaken."""
        folder = self.object_folder(object_id)
        if not (folder / LIGHT).is_file():
            raise InputError(
                "this object has not been surveyed yet.", remedy="Wait until its survey is done."
            )
        answer: bytes | None = self._in_hand.ask(TURNER, object_id, lambda: {"folder": str(folder)}, axis)
        return answer

    def block(self, plan: Row, wall_mm: float, shape: str, kept: Mapping[str, Any]) -> dict[str, Any] | None:
        """A plan's block at another wall and outside, as actions.reblocking says; None when overtaken.

        `kept` as in `plan`.
        """
        told: dict[str, Any] | None = self._in_hand.ask(
            BLOCKER, str(plan["id"]), lambda: self._planned(plan, kept), (wall_mm, shape)
        )
        return told

    def get_block_ready(self, plan: Row, kept: Mapping[str, Any]) -> tuple[bool, str, float]:
        """Begin to get a plan's mold in hand, if it is not; return whether it is there, and else the phase of
        getting ready and the share done of that. `kept` as in `plan`.
        """
        return self._in_hand.get_ready(BLOCKER, str(plan["id"]), lambda: self._planned(plan, kept))

    def keep_block(self, plan: Row) -> bool:
        """Whether a plan's mold is in hand; if so it is the last to make room for another."""
        return self._in_hand.keep(BLOCKER, str(plan["id"]))

    def _planned(self, plan: Row, kept: Mapping[str, Any]) -> dict[str, Any]:
        with self.register.reading() as db:
            thing = keeping.one_object(db, plan["object"])
        brief = brief_from(plan["brief"], dict(kept))
        return {"path": self.object_folder(plan["object"]) / thing["file"], "brief": brief}


def file_name(name: str) -> str:
    """A name that any disk takes and that cannot lead out of a folder: letters, digits, spaces and dashes."""
    plain = "".join(letter if letter.isalnum() or letter in " -_" else " " for letter in name)
    return " ".join(plain.split())[:40].strip() or "object"


def summary_of(document: Mapping[str, Any]) -> dict[str, Any]:
    """The few facts of a plan that lists show."""
    pours = document["pours"]
    return {
        "pieces": [
            {"letter": p["id"], "volume_ml": p["volume_ml"], "wet_g": p["wet_kg"] * 1000.0}
            for p in document["pieces"]
        ],
        "outer_mm": document["mold"]["outer_mm"],
        "shape": document["mold"]["shape"],
        "fill_ml": document["survey"]["fill_ml"],
        "water_g": sum(p["water_g"] for p in pours),
        "plaster_g": sum(p["plaster_g"] for p in pours),
        "failed": [c["id"] for c in document["checks"] if not c["ok"]],
    }
