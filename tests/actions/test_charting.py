"""The wall chart: what it says for a space is what a mix of that space takes, and it stays on its pages."""

from __future__ import annotations

import json
import math
import re
from datetime import date
from io import BytesIO
from pathlib import Path

import pdfplumber
import pytest
from pypdf import PdfReader

from claybed.actions.charting import chart_document, write_chart
from claybed.actions.mixing import Space, mix_document
from claybed.cli.app import main
from claybed.errors import InputError
from claybed.flow.ledger import numbers_at
from claybed.sheets import wall_chart
from claybed.units import say_mass

RATIO = 100.0 / 1.3


@pytest.mark.parametrize("us", [False, True])
def test_rows_are_what_mix_says(us: bool) -> None:
    """Every row of spaces, boxes and rounds agrees with `mix` for the same inside."""
    chart = chart_document(consistency=RATIO, waste=0.1, form="hand", us=us)
    assert chart["spaces"] and chart["boxes"] and chart["rounds"] and chart["less"]
    spaces = [(row, Space(space_ml=row["space_ml"])) for row in chart["spaces"][::5]]
    spaces += [
        (row, Space(box_mm=(row["length_mm"], row["width_mm"], row["height_mm"])))
        for row in chart["boxes"][::9]
    ]
    spaces += [(row, Space(round_mm=(row["diameter_mm"], row["height_mm"]))) for row in chart["rounds"][::4]]
    for row, space in spaces:
        mix = mix_document(space, consistency=RATIO, waste=0.1, form="hand", bucket_l=1e6)
        assert row["water_g"] == pytest.approx(mix["water_g"])
        assert row["plaster_g"] == pytest.approx(mix["plaster_g"])


def test_a_litre_at_one_to_one_point_three() -> None:
    """Without an allowance a litre of slurry at 1 : 1.3 takes 674 g of water and 876 g of plaster (worked
    from the density model; 1 : 1.3 is the maker's table value for pottery plaster).
    """
    chart = chart_document(consistency=RATIO, waste=0.0, form="hand")
    litre = next(row for row in chart["spaces"] if row["space_ml"] == 1000.0)
    assert litre["water_g"] == pytest.approx(674.0, abs=1.0)
    assert litre["plaster_g"] == pytest.approx(876.0, abs=1.0)


def test_an_object_comes_off_by_subtraction() -> None:
    """A box in steps of its height, less the object's row, is the mix of that box around that object."""
    chart = chart_document(consistency=RATIO, waste=0.1, form="hand")
    box = next(r for r in chart["boxes"] if (r["length_mm"], r["width_mm"]) == (200.0, 160.0))
    less = next(r for r in chart["less"] if r["space_ml"] == 750.0)
    whole = mix_document(
        Space(box_mm=(200.0, 160.0, 90.0), object_ml=750.0),
        consistency=RATIO,
        waste=0.1,
        form="hand",
        bucket_l=8.0,
    )
    assert 9.0 * box["plaster_g"] - less["plaster_g"] == pytest.approx(whole["plaster_g"])
    assert 9.0 * box["water_g"] - less["water_g"] == pytest.approx(whole["water_g"])


def test_rounds_are_discs() -> None:
    """The space of a round is that of a disc."""
    chart = chart_document(consistency=RATIO, waste=None, form="boards")
    assert chart["waste"] == pytest.approx(0.05)
    for row in chart["rounds"]:
        assert row["space_ml"] == pytest.approx(math.pi * (row["diameter_mm"] / 2.0) ** 2 * 10.0 / 1000.0)


def test_every_number_has_its_working() -> None:
    """Each number of the chart has a figure with formula and source."""
    chart = chart_document(consistency=RATIO, waste=None, form="hand")
    figures = chart.pop("figures")
    assert set(numbers_at(chart)) == set(figures)
    assert all(figure["formula"] and figure["source"] for figure in figures.values())


@pytest.mark.parametrize("us", [False, True])
def test_the_paper_holds_every_row(us: bool) -> None:
    """Two pages with every weight of spaces and rounds, not to be scaled, with cautions of dust and heat."""
    chart = chart_document(consistency=RATIO, waste=None, form="hand", studio="Ninepin Yard", us=us)
    pdf = wall_chart.render(chart, us=us, made_on=date(2026, 3, 14))
    assert PdfReader(BytesIO(pdf)).root_object["/ViewerPreferences"]["/PrintScaling"] == "/None"
    with pdfplumber.open(BytesIO(pdf)) as read:
        assert len(read.pages) == 2
        texts = [re.sub(r"\s+", " ", page.extract_text()) for page in read.pages]
    assert "Ninepin Yard" in texts[0] and "1 : 1.3" in texts[0]
    assert "dust mask" in texts[0] and "part of a body" in texts[0]
    for row in chart["spaces"]:
        assert say_mass(row["plaster_g"], us=us) in texts[0]
    for row in chart["rounds"]:
        assert say_mass(row["plaster_g"], us=us) in texts[1]


def test_an_earlier_chart_is_left_alone(tmp_path: Path) -> None:
    """A file that is there is kept unless it may be replaced; a folder that is not there is said plainly."""
    chart = chart_document(consistency=RATIO, waste=None, form="hand")
    path = tmp_path / "chart.pdf"
    path.write_text("mine")
    with pytest.raises(InputError, match="there already"):
        write_chart(chart, path, us=False)
    assert path.read_text() == "mine"
    write_chart(chart, path, us=False, replace=True)
    assert path.read_bytes().startswith(b"%PDF")
    with pytest.raises(InputError, match="cannot be written"):
        write_chart(chart, tmp_path / "nowhere" / "chart.pdf", us=False)
    assert [p.name for p in tmp_path.iterdir()] == ["chart.pdf"]


def test_the_command_takes_the_studio_s_ratio(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`claybed chart` keeps to the studio's ratio and name, and what is typed comes first."""
    monkeypatch.chdir(tmp_path)
    assert (
        main(["studio", "init", "--no-ask", "--name", "Ninepin Yard", "--ratio", "1:1.4", "--out", "s.toml"])
        == 0
    )
    capsys.readouterr()
    assert main(["chart", "--studio", "s.toml", "--out", "a.pdf", "--json"]) == 0
    kept = json.loads(capsys.readouterr().out)
    assert kept["consistency"] == pytest.approx(100.0 / 1.4) and kept["studio"] == "Ninepin Yard"
    assert main(["chart", "--studio", "s.toml", "--ratio", "1:1.3", "--out", "b.pdf", "--why"]) == 0
    said = capsys.readouterr().out
    assert "1 : 1.3" in said and "Source:" in said and "b.pdf" in said
    assert said.strip().splitlines()[-1].startswith("Next: claybed mix")
    assert main(["chart", "--ratio", "1:9", "--out", "c.pdf"]) == 2
    assert not (tmp_path / "c.pdf").exists()
