"""Photos on their way to an object: kept beside it, looked at in a process of their own, corrected, accepted.

The folder `photos` of an object holds the uploads as they came, asked.json (how they are to be read),
found.json (what was seen in them), given-N.csv (outlines that a person gave) and the pictures for the screen.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from claybed.actions.asking import brief_from
from claybed.errors import InputError
from claybed.register import keeping
from claybed.register.opening import Row
from claybed.web.board import Result, Runner, now_text
from claybed.web.studio import Studio, file_name

HOW: Final = "photos"
FEWEST_OF_RING: Final = 8
MOST_OF_RING: Final = 36
LEAST_OF_RING: Final = 6  # that must be left when others are taken out
SUFFIXES: Final = (
    ".jpg", ".jpeg", ".png", ".heic", ".heif", ".tif", ".tiff", ".webp",
)  # fmt: skip
_LINES: Final = "claybed.actions.outlining:run"
_RING: Final = "claybed.actions.outlining:run_ring"


def check_count(count: int) -> None:
    """Refuse a number of photos that nothing is made of. Raises InputError."""
    if count in (1, 2) or FEWEST_OF_RING <= count <= MOST_OF_RING:
        return
    raise InputError(
        f"{count} photos make no object: one is taken as turned, two are front and side, and a hull takes "
        f"{FEWEST_OF_RING} to {MOST_OF_RING} from all round.",
        remedy="Choose all of them together.",
    )


def check_name(given: str) -> None:
    """Refuse a file that is no photo by its name. Raises InputError."""
    if Path(given).suffix.casefold() not in SUFFIXES:
        raise InputError(
            f"a file named “{given[:60]}” is no photo.",
            remedy="Choose JPEG, PNG, HEIC, TIFF or WebP files, as the camera made them.",
        )


def take_photos(
    studio: Studio,
    *,
    name: str,
    files: Sequence[tuple[str, Path]],
    asked: Mapping[str, Any],
    typed: Mapping[str, Any],
) -> str:
    """Keep photos, which are moved, as an object to be; begin to look at them; return the object's id.

    `files` are names as given and where they lie; `asked` has bar_mm, marker_mm, height_mm, mass_g, gap_mm
    and exponent; `typed` is what the survey is asked later.
    """
    brief_from(typed)  # refused before anything is kept
    kept = f"{file_name(name)}.claybed"
    with studio.register.writing() as db:
        object_id = keeping.add_object(db, name=name, how=HOW, file=kept, now=now_text(), brief=typed)
    folder = photo_folder(studio, object_id)
    folder.mkdir(parents=True, mode=0o700)
    names = []
    for k, (given, place) in enumerate(files, 1):
        # A folder each, so that a message can call a photo by its own name and two may share one.
        stored = f"{k:02d}/{file_name(Path(given).stem)}{Path(given).suffix.casefold()}"
        (folder / stored).parent.mkdir(mode=0o700)
        shutil.move(place, folder / stored)
        names.append(stored)
    _write(folder / "asked.json", {**asked, "files": names})
    look(studio, object_id)
    return object_id


def look(studio: Studio, object_id: str) -> str:
    """Begin to find outlines, or to measure with those given; return the job's id."""
    with studio.register.reading() as db:
        thing = keeping.one_object(db, object_id)
    folder = photo_folder(studio, object_id)
    asked = _read(folder / "asked.json")
    name, final = str(thing["name"]), studio.object_folder(object_id) / thing["file"]

    def work(run: Runner) -> Result:
        part = final.with_name(f".{final.name}.part")
        try:
            order = _order(folder, asked) | {"name": file_name(name), "out": part}
            found = run(_RING if is_ring(asked) else _LINES, order, name)
            # What the last look found stays until this one is whole; so does the object it led to.
            for new, shown in zip(_new_views(folder, asked), views(folder, asked), strict=True):
                if new.is_file():
                    new.replace(shown)
            if is_ring(asked):
                _recall_lines(found["pictures"], folder)
            _write(folder / "found.json", found)
            if found["object"] is not None:
                part.replace(final)
        finally:
            part.unlink(missing_ok=True)
        return {"object": object_id, "outline": True}

    return studio.board.start("photos", object_id, work)


def _recall_lines(pictures: Sequence[Row], folder: Path) -> None:
    """Give photos that were not looked at this time the outlines that the last look saw in them."""
    before = _read(folder / "found.json")["pictures"] if (folder / "found.json").is_file() else []
    for now, then in zip(pictures, before, strict=False):
        if "points_px" not in now and "points_px" in then:
            now |= {"size_px": then["size_px"], "points_px": then["points_px"]}


def give_outlines(studio: Studio, object_id: str, lines: Sequence[str]) -> str:
    """Keep outlines as a person gave them, one text of points for each photo, empty for the one found; look
    again and return the job's id.
    """
    folder = photo_folder(studio, object_id)
    asked = _read(folder / "asked.json")
    for k in range(1, len(asked["files"]) + 1):
        place = folder / f"given-{k}.csv"
        text = lines[k - 1].strip() if k <= len(lines) else ""
        if text:
            place.write_text(text + "\n", "utf-8")
        else:
            place.unlink(missing_ok=True)
    return look(studio, object_id)


def give_outline(studio: Studio, object_id: str, number: int, line: str) -> str:
    """Keep the outline of photo `number`, from 1, of a ring as a person gave it, empty to find it anew; look
    again and return the job's id. Raises InputError when there is no such photo.
    """
    folder = photo_folder(studio, object_id)
    asked = _read(folder / "asked.json")
    if not 1 <= number <= len(asked["files"]):
        raise InputError("there is no such photo.", remedy="Choose one of those shown.")
    place = folder / f"given-{number}.csv"
    if line.strip():
        place.write_text(line.strip() + "\n", "utf-8")
    else:
        place.unlink(missing_ok=True)
    return look(studio, object_id)


def choose_photos(studio: Studio, object_id: str, numbers: Collection[int]) -> str:
    """Measure with these photos of a ring, by number from 1, and leave the others out; return the job's id.

    Raises InputError, and changes nothing, for fewer than make a hull, or for what is no ring.
    """
    folder = photo_folder(studio, object_id)
    asked = _read(folder / "asked.json")
    used = [k for k in range(1, len(asked["files"]) + 1) if k in numbers]
    if not is_ring(asked) or len(used) < LEAST_OF_RING:
        raise InputError(
            f"{len(used)} photos are too few for a hull, which takes {LEAST_OF_RING}.",
            remedy="Leave more of them in, or bring others.",
        )
    _write(folder / "asked.json", {**asked, "used": used})
    return look(studio, object_id)


def state_of(studio: Studio, object_id: str) -> Row:
    """What the photos of an object show now: "asked", "found" (or None) and "given", a text for each photo.

    Raises InputError when the object did not come from photos.
    """
    folder = photo_folder(studio, object_id)
    asked = _read(folder / "asked.json")
    found = _read(folder / "found.json") if (folder / "found.json").is_file() else None
    given = []
    for k in range(1, len(asked["files"]) + 1):
        place = folder / f"given-{k}.csv"
        given.append(place.read_text("utf-8") if place.is_file() else "")
    used = set(asked.get("used") or range(1, len(asked["files"]) + 1))
    return {"asked": asked, "found": found, "given": given, "ring": is_ring(asked), "used": used}


def view_of(studio: Studio, object_id: str, number: int) -> Path:
    """The picture for the screen of photo `number`, from 1."""
    folder = photo_folder(studio, object_id)
    shown = views(folder, _read(folder / "asked.json"))
    return shown[number - 1] if 1 <= number <= len(shown) else folder / "none"


def is_ring(asked: Mapping[str, Any]) -> bool:
    """Whether these photos are taken from all round."""
    return len(asked["files"]) >= FEWEST_OF_RING


def photo_folder(studio: Studio, object_id: str) -> Path:
    """Where the photos of an object lie."""
    return studio.object_folder(object_id) / "photos"


def views(folder: Path, asked: Mapping[str, Any]) -> list[Path]:
    """The pictures for the screen."""
    return [folder / f"view-{k}.jpg" for k in range(1, len(asked["files"]) + 1)]


def _new_views(folder: Path, asked: Mapping[str, Any]) -> list[Path]:
    return [place.with_name(f".{place.name}.part") for place in views(folder, asked)]


def _order(folder: Path, asked: Mapping[str, Any]) -> dict[str, Any]:
    facts = {key: asked[key] for key in ("bar_mm", "marker_mm", "height_mm", "mass_g")}
    paths = [folder / stored for stored in asked["files"]]
    new = _new_views(folder, asked)
    count = max(2, len(paths))
    given = [place if (place := folder / f"given-{k}.csv").is_file() else None for k in range(1, count + 1)]
    if is_ring(asked):
        out = [k not in asked.get("used", ()) if asked.get("used") else False for k in range(1, count + 1)]
        return {**facts, "paths": paths, "views": new, "outlines": given, "taken_out": out}
    return {
        **facts,
        "path": paths[0],
        "side": paths[1] if len(paths) > 1 else None,
        "gap_mm": asked["gap_mm"],
        "exponent": asked["exponent"],
        "outline": given[0],
        "side_outline": given[1],
        "views": new,
    }


def _write(place: Path, values: Mapping[str, Any]) -> None:
    part = place.with_name(f".{place.name}.part")
    part.write_text(json.dumps(values, ensure_ascii=False), "utf-8")
    part.replace(place)


def _read(place: Path) -> dict[str, Any]:
    try:
        values: dict[str, Any] = json.loads(place.read_text("utf-8"))
    except (OSError, ValueError) as error:
        raise InputError(
            "there is no photo of this object.", remedy="Make it from photos anew; nothing else is touched."
        ) from error
    return values
