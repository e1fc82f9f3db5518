"""Photos brought to the app: the mat, outlines found, corrected and accepted, and what is refused."""

from __future__ import annotations

import ast
import io
from pathlib import Path

import numpy as np
import pytest
from app_client import client_of, settled
from fastapi.testclient import TestClient
from PIL import Image

from claybed.photos import shot
from claybed.register import keeping
from claybed.web import photo_work
from claybed.web.photo_words import in_the_app
from claybed.web.settings import Settings
from tests.photos.rings import as_jpeg, bottle_picture, small_ring

BOTTLE_ML = 576.3  # the drawing's solid of revolution, see tests/pieces


def brought(client: TestClient, photos: list[tuple[str, bytes]], **asked: str) -> str:
    """The id of an object whose photos were uploaded."""
    files = [("photos", one) for one in photos]
    answer = client.post("/objects/photos", files=files, data=asked)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"].split("/")[2]


def found(client: TestClient, made: str) -> dict[str, object]:
    """What was seen in the photos of an object."""
    from claybed.web.photo_work import state_of

    state = state_of(client.app.state.studio, made)  # type: ignore[attr-defined]
    assert state["found"] is not None
    return dict(state["found"])


@pytest.mark.parametrize("paper", ["a4", "letter", "a3"])
def test_the_mat_is_printed_from_the_app(client: TestClient, paper: str) -> None:
    """Each paper is a PDF, and the page of photos leads to it."""
    answer = client.get(f"/paper/mat-{paper}.pdf")
    assert answer.content.startswith(b"%PDF")
    assert f"/paper/mat-{paper}.pdf" in client.get("/objects/photos").text


def test_no_mat_for_another_paper(client: TestClient) -> None:
    """A paper that has no mat is refused."""
    assert client.get("/paper/mat-a5.pdf").status_code == 422


def test_one_photo_is_looked_at_corrected_and_kept(client: TestClient) -> None:
    """The outline found gives the bottle; dragged wider it gives more; found anew it gives the bottle, which
    is kept with that volume and how far it may be off."""
    made = brought(client, [("IMG 1.jpg", bottle_picture())], bar="150", mass="900g", name="Bottle")
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    first = found(client, made)
    assert first["object"]["volume_ml"] == pytest.approx(BOTTLE_ML, rel=0.03)  # type: ignore[index]
    picture = first["pictures"][0]  # type: ignore[index]
    assert picture["size_px"] == [960, 1280]
    points = np.array(picture["points_px"])
    page = client.get(f"/objects/{made}/outline").text
    assert "Keep the object" in page
    assert "± " in page
    shown = Image.open(io.BytesIO(client.get(f"/objects/{made}/photos/1.jpg").content))
    assert shown.size == (960, 1280)
    assert not shown.getexif()
    assert "Its outline waits for you" in client.get("/").text

    middle = points[:, 0].mean()
    wider = np.column_stack([middle + (points[:, 0] - middle) * 1.1, points[:, 1]])
    text = "x_px,y_px\n" + "\n".join(f"{x:.1f},{y:.1f}" for x, y in wider)
    assert client.post(f"/objects/{made}/outline", data={"line1": text}).status_code == 303
    assert settled(client, made)["state"] == "done"
    wide = found(client, made)
    # a tenth wider all round holds 1.1² as much
    assert wide["object"]["volume_ml"] == pytest.approx(1.21 * first["object"]["volume_ml"], rel=0.02)  # type: ignore[index]

    client.post(f"/objects/{made}/outline")
    assert settled(client, made)["state"] == "done"
    assert client.post(f"/objects/{made}/accept").headers["location"] == f"/objects/{made}"
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
        survey = keeping.one_object(db, made)["survey"]
    assert survey["object"]["volume_ml"] == pytest.approx(first["object"]["volume_ml"], rel=1e-6)  # type: ignore[index]
    figure = survey["figures"]["/object/volume_ml"]
    assert figure["low"] < BOTTLE_ML < figure["high"]
    page = client.get(f"/objects/{made}").text
    assert "± " in page
    assert f"/objects/{made}/outline" in page


def test_a_line_that_is_no_outline_stays_to_be_mended(client: TestClient) -> None:
    """A crossed line is told on the page and stays there as it was drawn; nothing can be kept by it."""
    made = brought(client, [("a.png", bottle_picture())], bar="150")
    settled(client, made)
    before = found(client, made)["pictures"][0]["points_px"]  # type: ignore[index]
    half = len(before) // 2
    bow = "\n".join(f"{x},{y}" for x, y in [*before[:half], *before[half:][::-1]])
    client.post(f"/objects/{made}/outline", data={"line1": bow})
    assert settled(client, made)["state"] == "done"
    after = found(client, made)
    assert "crosses itself" in str(after["says"])
    assert after["object"] is None
    page = client.get(f"/objects/{made}/outline").text
    assert "crosses itself" in page
    assert bow.splitlines()[0] in page
    assert client.post(f"/objects/{made}/accept").status_code == 400


def test_a_photo_without_a_mat_is_told_and_the_app_goes_on(client: TestClient) -> None:
    """What is wrong with the photo and what to do stands on its page, without options of the command line."""
    noise = np.random.default_rng(2).integers(0, 255, (500, 600, 3), dtype=np.uint8)
    made = brought(client, [("wall.jpg", as_jpeg(noise))])
    job = settled(client, made)
    assert job["state"] == "failed"
    page = client.get(f"/objects/{made}/outline").text
    assert "shows no mat" in page
    assert "wall.jpg" in page
    assert "claybed mat" not in page
    assert "Bring others" in page
    assert client.get("/").status_code == 200


@pytest.mark.parametrize(
    ("photos", "asked", "says"),
    [
        (["a.exe"], {}, "no photo"),
        (["../../a.jpg.html"], {}, "no photo"),
        (["a.jpg"] * 3, {}, "3 photos make no object"),
        (["a.jpg"] * 37, {}, "37 photos make no object"),
        (["a.jpg"], {"bar": "long"}, "long"),
        (["a.jpg"], {"bar": "-150"}, "150"),
        (["a.jpg"], {"exponent": "0.2"}, "no exponent"),
        (["a.jpg", "b.jpg"], {"mat": "behind"}, "goes with one photo"),
    ],
)
def test_what_cannot_be_is_said_before_anything_is_kept(
    client: TestClient, photos: list[str], asked: dict[str, str], says: str
) -> None:
    """Wrong kinds, counts and measures are refused with what to do, and leave nothing behind."""
    files = [("photos", (name, b"x")) for name in photos]
    answer = client.post("/objects/photos", files=files, data=asked)
    assert answer.status_code == 400
    assert says in answer.text
    assert "Nothing on the shelf yet" in client.get("/").text
    assert list(client.app.state.studio.settings.data.glob(".upload-*")) == []  # type: ignore[attr-defined]


def test_photos_over_the_limit_are_refused(tmp_path: Path) -> None:
    """More than the app takes is refused as too large, and leaves nothing behind."""
    settings = Settings(data=tmp_path / "small", demo=False, upload_mb=1)
    with client_of(settings) as client:
        answer = client.post("/objects/photos", files=[("photos", ("a.jpg", bytes(1_200_000)))])
        assert answer.status_code == 413
        assert "Nothing on the shelf yet" in client.get("/").text
        assert list(settings.data.glob(".upload-*")) == []


def test_an_outline_of_an_object_without_photos(client: TestClient) -> None:
    """There is none, and the page says so."""
    made = client.post("/objects/shape", data={"name": "b", "kind": "sphere", "width": "50"})
    page = client.get(made.headers["location"] + "/outline")
    assert page.status_code == 404
    assert "no photo of this object" in page.text


def test_the_app_speaks_of_its_own_pages() -> None:
    """No sentence of the photo stage names an option of the command line once it is on a page."""
    said = []
    for file in sorted(Path(shot.__file__).parent.glob("*.py")):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and "--" in node.value:
                said.append(node.value)
    assert len(said) >= 8
    told = {text: in_the_app(f"{text}: " if text.startswith("--") else text) for text in said}
    assert {text: words for text, words in told.items() if "--" in words} == {"--paper": "--paper: "}


def test_a_ring_is_measured_corrected_and_thinned(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One photo of nine shows the object moved: it is left out and named. Another is taken out by hand, the
    outline of a third is drawn narrower: both count in the next look, and the page tells.
    """
    files = [(f"p{k}.jpg", data) for k, data in enumerate(small_ring())]
    made = brought(client, files, bar="150", name="Mug")
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    first = found(client, made)
    pictures: list[dict[str, object]] = first["pictures"]  # type: ignore[assignment]
    assert [one["used"] for one in pictures] == [True] * 8 + [False]
    assert "outline" in str(pictures[8]["why"])
    page = client.get(f"/objects/{made}/outline").text
    assert page.count('name="used"') == 9
    assert "Left out: it has an outline" in page
    for number in range(1, 10):
        shown = Image.open(io.BytesIO(client.get(f"/objects/{made}/photos/{number}.jpg").content))
        assert max(shown.size) == 896
    assert client.get(f"/objects/{made}/photos/10.jpg").status_code == 404
    few = client.post(f"/objects/{made}/photos", data={"used": ["1", "2", "3", "4", "5"]})
    assert few.status_code == 400
    assert "too few for a hull" in few.text

    points = np.array(pictures[0]["points_px"])
    narrow = points.mean(axis=0) + (points - points.mean(axis=0)) * [0.9, 1.0]
    text = "x_px,y_px\n" + "\n".join(f"{x:.1f},{y:.1f}" for x, y in narrow)
    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(photo_work, "look", lambda studio, object_id: "later")
        assert client.post(f"/objects/{made}/outline", data={"photo": 1, "line1": text}).is_redirect
        nobody = client.post(f"/objects/{made}/outline", data={"photo": 99, "line1": text})
        assert nobody.status_code == 404
    fewer = [str(k) for k in range(1, 10) if k != 4]
    assert client.post(f"/objects/{made}/photos", data={"used": fewer}).is_redirect
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    after = found(client, made)
    again: list[dict[str, object]] = after["pictures"]  # type: ignore[assignment]
    assert np.array(again[0]["points_px"]) == pytest.approx(narrow, abs=0.06)
    assert again[0]["used"]
    assert again[3]["points_px"] == pictures[3]["points_px"]
    assert (again[3]["used"], again[3]["why"]) == (False, "was taken out")
    assert after["object"]["volume_ml"] < 0.99 * first["object"]["volume_ml"]  # type: ignore[index]
    page = client.get(f"/objects/{made}/outline").text
    assert page.count("Taken out.") == 1
    assert "With your outline." in page
    assert "p3.jpg was taken out" not in page
    assert f"{narrow[0, 0]:.1f},{narrow[0, 1]:.1f}" in client.get(f"/objects/{made}/outline?photo=1").text
    assert client.get(f"/objects/{made}/outline?photo=99").status_code == 404
