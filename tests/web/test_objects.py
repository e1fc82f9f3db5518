"""Bringing an object in, seeing it, and planning its mold."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from app_client import client_of, entered_mold, settled
from fastapi.testclient import TestClient

from claybed.errors import InputError
from claybed.geometry.mesh import Mesh
from claybed.geometry.sighting import Reach
from claybed.records.tidying import Wishes
from claybed.register import keeping
from claybed.scene.shape_file import unpacked
from claybed.web.settings import Settings
from tests.pieces.solids import box, sphere

GOURD = files("claybed.assets") / "demo" / "gourd.stl"


def soup(mesh: Mesh) -> bytes:
    """A mesh as a binary STL file."""
    facet = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("tag", "<u2")])
    facets = np.zeros(len(mesh.faces), facet)
    facets["corners"] = mesh.corners_mm
    return bytes(80) + len(facets).to_bytes(4, "little") + facets.tobytes()


def brought(client: TestClient, file: str, data: bytes, **asked: str) -> str:
    """The id of an object that was uploaded."""
    answer = client.post("/objects", files={"file": (file, data)}, data=asked)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"].rpartition("/")[2]


def test_an_empty_shelf_says_what_to_do(client: TestClient) -> None:
    """The first page of a new studio leads to the first step."""
    page = client.get("/").text
    assert "Bring an object" in page
    assert "Nothing on the shelf yet" in page


@pytest.mark.parametrize(
    "name",
    [
        "../../etc/passwd",
        "a.exe",
        "gourd.stl.html",
        "stl",
        "x" * 300,
        "<script>.svgz",
        "a\x00.stl\x00.js",
        "..\\..\\a.bat",
    ],
)
def test_a_file_of_another_kind_is_refused(client: TestClient, name: str) -> None:
    """A name that is no model's is refused with the kinds that are; nothing is kept."""
    answer = client.post("/objects", files={"file": (name, b"solid")})
    assert answer.status_code in (400, 422)
    assert "<script>.svgz" not in answer.text
    assert "Nothing on the shelf yet" in client.get("/").text
    assert list(client.app.state.studio.settings.data.glob(".upload-*")) == []  # type: ignore[attr-defined]


def test_a_name_with_a_script_is_only_a_name(client: TestClient) -> None:
    """What a person calls an object is shown, never run, and never becomes a path."""
    made = brought(client, "../../<img src=x onerror=alert(1)>.stl", b"solid no facets\nendsolid\n")
    settled(client, made)
    for address in ("/", f"/objects/{made}"):
        page = client.get(address).text
        assert "<img src=x" not in page
        assert "&lt;img src=x" in page


def test_rubbish_in_a_model_file_is_said_and_keeps_the_app(client: TestClient) -> None:
    """A file that cannot be read is a failed job with a reason, and the app goes on."""
    made = brought(client, "noise.stl", bytes(range(256)) * 40)
    job = settled(client, made)
    assert job["state"] == "failed"
    assert "noise" in str(job["says"])
    page = client.get(f"/objects/{made}").text
    assert "It could not be used." in page
    assert client.get("/").status_code == 200


def test_a_measure_that_cannot_be_is_said_before_anything_is_kept(client: TestClient) -> None:
    """A height without sense is refused with the upload, which can be sent again."""
    answer = client.post("/objects", files={"file": ("a.stl", b"x")}, data={"height": "tall"})
    assert answer.status_code == 400
    assert "tall" in answer.text
    assert "Nothing on the shelf yet" in client.get("/").text


def test_the_gourd_from_upload_to_plan(client: TestClient) -> None:
    """The demonstration object is surveyed, turned under the hand, planned, and its sheet can be printed."""
    made = brought(client, "gourd.stl", GOURD.read_bytes(), height="180mm", mass="310g", name="Dried gourd")
    assert settled(client, made)["state"] == "done"
    page = client.get(f"/objects/{made}").text
    assert "Dried gourd" in page
    shape, arrays = unpacked(client.get(f"/api/objects/{made}/shape").content)
    triangles = len(arrays["faces"]) // 3
    assert abs(shape["size"] - 180.0) < 1.0

    along, reach = unpacked(client.get(f"/api/objects/{made}/turn", params={"x": 0, "y": 1, "z": 0}).content)
    back, other = unpacked(client.get(f"/api/objects/{made}/turn", params={"x": 0, "y": -1, "z": 0}).content)
    assert len(reach["reach"]) == triangles
    assert along["fill_ml"] == pytest.approx(back["fill_ml"], rel=1e-6)
    # What leaves one way from the front leaves the other way from the back.
    assert np.count_nonzero(reach["reach"] == Reach.ALONG) == np.count_nonzero(
        other["reach"] == Reach.AGAINST
    )
    assert np.count_nonzero(reach["reach"] >= Reach.LOCKED) > 0
    assert len(reach["seam"]) > 50

    assert client.post(f"/objects/{made}/plans", data={"wall_mm": "30mm"}).status_code == 303
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    result = job["result"]
    assert isinstance(result, dict)
    plan = client.get(f"/plans/{result['plan']}").text
    assert "Ready to pour" in plan
    sheet = client.get(f"/plans/{result['plan']}/files/sheets/bench-sheet.pdf")
    assert sheet.content.startswith(b"%PDF")
    for name in (
        "../../register.sqlite",
        "..%2F..%2Fregister.sqlite",
        "/etc/passwd",
        ".claybed-folder.json%00.pdf",
    ):
        assert client.get(f"/plans/{result['plan']}/files/{name}").status_code == 404


def test_a_cube_turned_shows_its_walls(client: TestClient) -> None:
    """A cube seen along an edge of its frame has one face each way, four walls, and nothing that locks."""
    made = brought(client, "cube.stl", soup(box(40.0, 40.0, 40.0)))
    assert settled(client, made)["state"] == "done"
    head, arrays = unpacked(client.get(f"/api/objects/{made}/turn", params={"x": 0, "y": 0, "z": 2}).content)
    counts = np.bincount(arrays["reach"], minlength=5)
    assert head["fill_ml"] == 0.0
    assert counts[Reach.ALONG] == counts[Reach.AGAINST] == 2
    assert counts[Reach.WALL] == 8
    assert counts[Reach.LOCKED] == counts[Reach.DEEP] == 0


@pytest.mark.parametrize("query", ["x=0&y=0&z=0", "x=nan&y=0&z=1", "x=1e99&y=0&z=0", "x=a&y=0&z=0", "x=1"])
def test_a_direction_that_is_none(client: TestClient, query: str) -> None:
    """A turn to nowhere is a message, never a fault."""
    answer = client.get(f"/api/objects/ABCDE/turn?{query}")
    assert answer.status_code in (400, 404, 422)
    assert answer.json()["says"]


def test_every_number_opens_to_its_working(client: TestClient) -> None:
    """A figure of a plan shows formula, inputs and source; an unknown one names those near it."""
    made = brought(client, "ball.stl", soup(sphere(30.0, subdivisions=3)))
    settled(client, made)
    client.post(f"/objects/{made}/plans")
    job = settled(client, made)
    result = job["result"]
    assert isinstance(result, dict)
    at = f"/plans/{result['plan']}"
    shown = client.get(at + "/why", params={"name": "/pours/0/water_g"}).text
    assert "plaster_g x consistency / 100" in shown
    assert "Common rule" in shown
    assert client.get(at + "/why", params={"name": "pours.A.watr_g"}).status_code == 404
    page = client.get(at).text
    for pointer in set(re.findall(r"why\?name=([^\"]+)\"", page)):
        assert client.get(f"{at}/why?name={pointer}").status_code == 200, pointer

    mold = entered_mold(client, str(result["plan"]))
    for letter, wet_g, left_g in (("A", 3000.0, 2100.0), ("B", 2000.0, 1400.0)):
        for grams in (wet_g, left_g):
            entry = {"letter": letter, "mass_g": grams, "trimmed": grams == wet_g}
            assert client.post(f"/api/molds/{mold}/weighings", json=entry).status_code == 200
    assert client.post(at + "/map", data={"casts": 1, "water": "-3"}).status_code == 400
    assert client.post(at + "/map", data={"casts": 1, "wall": "4mm", "k": "2"}).status_code == 303
    mapped = settled(client, str(result["plan"]))
    assert mapped["state"] == "done", mapped["says"]
    shown = client.get(at).text
    assert client.get(at + "/map/pictures/cast-1.png").content.startswith(b"\x89PNG")
    # 3500 g of 5000 g wet at 1 : 1.3, whose dry mass is 118.618 / 176.923 of the wet
    assert f"{100 * (3500 / (5000 * 118.618 / 176.923) - 1):.1f} % of its dry mass in water" in shown
    links = re.findall(r"why\?(of=map[^\"]+)\"", shown)
    assert len(links) == 3
    assert "simulated" in client.get(f"{at}/why?{links[0].replace('&amp;', '&')}").text
    assert client.get(at + "/map/..%2fregister.sqlite").status_code == 404
    assert client.post(at + "/map", data={"casts": 99}).status_code == 422

    told = client.get(f"/api{at}/weights", params={"ratio": 1.3, "waste": 0, "bucket": 8}).json()
    document = client.get(at + "/files/plan.json").json()
    for row, pour in zip(told["pours"], document["pours"], strict=True):
        assert row["water_g"] == pytest.approx(pour["water_g"] / (1.0 + pour["waste"]), rel=1e-9)
    assert client.get(f"/api{at}/weights", params={"ratio": 0, "waste": 0, "bucket": 8}).status_code == 422


def test_a_new_studio_shows_the_gourd_once(tmp_path: Path) -> None:
    """The first start brings the demonstration object; put away, it does not come back."""
    settings = Settings(data=tmp_path / "first")
    with client_of(settings) as client:
        page = client.get("/").text
        found = re.search(r"/objects/([A-Z0-9]{5})", page)
        assert found is not None
        assert "Ninepin Yard" in page
        client.post(f"/objects/{found[1]}/away")
    with client_of(settings) as client:
        assert "Nothing on the shelf yet" in client.get("/").text


def test_a_turned_form_from_typed_readings(client: TestClient) -> None:
    """Heights and diameters typed in the app become an object whose volume is Pappus' for a straight cone."""
    asked = {"name": "Tapered beaker", "readings": "0, 60\n50, 70\n100, 80\n", "reading": "0.2"}
    answer = client.post("/objects/readings", data=asked)
    assert answer.status_code == 303, answer.text
    made = answer.headers["location"].rpartition("/")[2]
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    page = client.get(f"/objects/{made}").text
    assert "Tapered beaker" in page
    with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
        survey = keeping.one_object(db, made)["survey"]
    # frustum of a cone: pi h (R² + R r + r²) / 3
    assert survey["object"]["volume_ml"] == pytest.approx(np.pi * 100 * (900 + 1200 + 1600) / 3e3, rel=2e-3)


@pytest.mark.parametrize("readings", ["", "0, 60", "tall\nwide", "0, 60\n-5, 70\n9, -1"])
def test_readings_that_are_none(client: TestClient, readings: str) -> None:
    """Readings without sense are said, and leave nothing half made on the shelf as if it were an object."""
    answer = client.post("/objects/readings", data={"name": "x", "readings": readings})
    if answer.status_code == 303:
        job = settled(client, answer.headers["location"].rpartition("/")[2])
        assert job["state"] == "failed"
        assert job["says"]
    else:
        assert answer.status_code in (400, 422)


def test_a_simple_shape_from_its_sizes(client: TestClient) -> None:
    """A box of typed sizes is an object of that volume."""
    asked = {"name": "Brick", "kind": "box", "length": "80", "width": "60", "height": "4 cm"}
    made = client.post("/objects/shape", data=asked).headers["location"].rpartition("/")[2]
    assert settled(client, made)["state"] == "done"
    with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
        survey = keeping.one_object(db, made)["survey"]
    assert survey["object"]["volume_ml"] == pytest.approx(192.0, rel=1e-6)


def test_a_rough_scan_is_tidied_on_its_way_in(client: TestClient) -> None:
    """A ball with a hole is closed within its shape, the steps are told, and the scan is kept as it came."""
    whole = sphere(30.0, subdivisions=3)
    scan = soup(Mesh.make(whole.vertices_mm, whole.faces[20:], frame=whole.frame))
    made = brought(client, "rough.stl", scan, rough="true")
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    studio = client.app.state.studio  # type: ignore[attr-defined]
    with studio.register.reading() as db:
        thing = keeping.one_object(db, made)
    assert thing["how"] == "scan"
    assert thing["survey"]["object"]["volume_ml"] == pytest.approx(4.0 / 3.0 * np.pi * 27.0, rel=0.03)
    assert (studio.object_folder(made) / "scan.stl").read_bytes() == scan
    assert (
        client.post("/objects", files={"file": ("a.step", b"x")}, data={"rough": "true"}).status_code == 400
    )


def test_steps_of_tidying_can_be_left_out(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is ticked and typed for a rough scan is what tidying is asked; up and body are not asked twice."""
    told: list[Any] = []
    studio = client.app.state.studio  # type: ignore[attr-defined]
    monkeypatch.setattr(studio.board, "start", lambda kind, about, work: told.append(work) or "job")
    asked = {"rough": "true", "keep_table": "true", "smooth": "0", "up": "-y", "body": "2"}
    made = brought(client, "rough.stl", b"solid", **asked)
    with studio.register.reading() as db:
        assert keeping.one_object(db, made)["brief"] == {}
    orders: list[dict[str, Any]] = []

    def run(target: str, payload: dict[str, Any], where: str) -> None:
        orders.append(payload)
        raise InputError("enough is known.")

    with pytest.raises(InputError, match="enough"):
        told[0](run)
    assert orders[0]["wishes"] == Wishes(table=False, smooth_mm=0.0, up=(0.0, -1.0, 0.0), body=2)
    answer = client.post(
        "/objects", files={"file": ("a.stl", b"x")}, data={"rough": "true", "smooth": "much"}
    )
    assert answer.status_code == 400


def test_a_drawn_outline_made_thick(client: TestClient) -> None:
    """An ellipse of 76 by 48 mm made 18 mm thick without draft holds pi a b h."""
    svg = b'<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" viewBox="0 0 80 60">'
    svg += b'<ellipse cx="40" cy="30" rx="38" ry="24"/></svg>'
    asked = {"how": "extrude", "thick": "18", "draft": "0"}
    answer = client.post("/objects/drawing", files={"file": ("leaf.svg", svg)}, data=asked)
    made = answer.headers["location"].rpartition("/")[2]
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
        kept = keeping.one_object(db, made)
    assert kept["name"] == "leaf"
    assert kept["survey"]["object"]["volume_ml"] == pytest.approx(np.pi * 38 * 24 * 18 / 1e3, rel=2e-3)


def test_a_relief_from_a_grey_picture(client: TestClient) -> None:
    """A plain grey picture is a plate of its base and half the height of white."""
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.new("L", (60, 40), 255).save(out, "PNG")
    asked = {"width": "120", "raised": "4", "base": "6", "draft": "0"}
    answer = client.post("/objects/relief", files={"file": ("plain.png", out.getvalue())}, data=asked)
    made = answer.headers["location"].rpartition("/")[2]
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
        survey = keeping.one_object(db, made)["survey"]
    assert survey["object"]["extent_mm"][0] == pytest.approx(120.0, rel=1e-6)
    assert survey["object"]["extent_mm"][2] == pytest.approx(10.0, rel=1e-6)


def test_an_object_known_by_its_water(client: TestClient) -> None:
    """640 g of water is 641 ml; the page says how well, that it floats, and hands it to the quick mix."""
    asked = {"name": "Gourd", "water": "640g", "mass": "310g", "box": "120x90x180mm"}
    made = client.post("/objects/displaced", data=asked).headers["location"].rpartition("/")[2]
    job = settled(client, made)
    assert job["state"] == "done", job["says"]
    page = client.get(f"/objects/{made}").text
    # water of 20 °C weighs 0.9982 g/ml (CRC handbook; from memory)
    assert re.search(r"641 <small>ml", page)
    assert "± " in page
    assert "floats" in page
    assert "/mix#object=641" in page.replace("641.2", "641")
    assert "--box" not in page
    assert "Known by its water" in client.get("/").text


@pytest.mark.parametrize(
    ("place", "file", "asked", "says"),
    [
        ("drawing", ("a.png", b"x"), {"how": "extrude", "thick": "18"}, "cannot be used here"),
        ("drawing", ("a.svg", b"<svg/>"), {"how": "extrude"}, "thickness"),
        ("relief", ("a.svg", b"<svg/>"), {"width": "120"}, "cannot be used here"),
        ("relief", ("a.png", b"x"), {"width": "wide"}, "wide"),
        ("displaced", None, {"name": "x", "water": "640"}, "weighed or measured"),
        ("displaced", None, {"name": "x", "water": "-3 g"}, "-3"),
    ],
)
def test_what_cannot_be_drawn_or_weighed_is_said_first(
    client: TestClient, place: str, file: tuple[str, bytes] | None, asked: dict[str, str], says: str
) -> None:
    """Wrong kinds and measures are refused before anything is kept."""
    answer = client.post(f"/objects/{place}", files={"file": file} if file else None, data=asked)
    assert answer.status_code == 400
    assert says in answer.text
    assert "Nothing on the shelf yet" in client.get("/").text


def test_a_third_reading_is_the_depth_of_an_oval(client: TestClient) -> None:
    """An oval of 60 by 40 mm stands as wide and as deep, and holds pi a b h."""
    asked = {"name": "Oval", "section": "oval", "readings": "0, 60, 40\n90, 60, 40"}
    made = client.post("/objects/readings", data=asked).headers["location"].rpartition("/")[2]
    assert settled(client, made)["state"] == "done"
    with client.app.state.studio.register.reading() as db:  # type: ignore[attr-defined]
        survey = keeping.one_object(db, made)["survey"]
    assert survey["object"]["volume_ml"] == pytest.approx(np.pi * 30 * 20 * 90 / 1e3, rel=2e-3)
    assert sorted(survey["object"]["extent_mm"]) == pytest.approx([40.0, 60.0, 90.0], rel=2e-3)
