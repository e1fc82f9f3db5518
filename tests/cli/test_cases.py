"""`claybed cases` as it is typed: what is asked of the work, what is shown, how it ends."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from claybed.cli.app import main
from claybed.cli.planning import next_words
from claybed.errors import EXIT_BAD_INPUT, EXIT_DONE, EXIT_NOT_READY
from claybed.jobs import worker
from claybed.records.case_ask import CaseAsk

PART = {"id": "A1", "file": "parts/A1.stl", "size_mm": [101.6, 127.0, 50.8], "plastic_g": 453.6}
CASE = {
    "piece": "A", "kind": "printed case", "parts": [PART, PART | {"id": "A2"}], "plastic_g": 907.2,
    "takes": "2 days", "full_kg": 8.25, "pour": {"water_g": 1234.0, "plaster_g": 1604.0},
}  # fmt: skip
CHECK = {
    "id": "case_release_A", "ok": True, "measured": 0.0, "limit": 0.01, "unit": "mm", "sense": "most",
    "where": "piece A", "how": "every pair of faces", "remedy": "Print it in one part.",
}  # fmt: skip
FINDING = {
    "id": "case_softens", "severity": "look", "where": "case of piece A",
    "says": "The middle of this pour reaches about 54 °C.", "remedy": "Mix with cool water.",
}  # fmt: skip
DOCUMENT = {
    "name": "gourd", "ready": True, "route": "printed cases", "printing": {"plastic": "pla"}, "cases": [CASE],
    "checks": [CHECK], "findings": [FINDING], "figures": {},
}  # fmt: skip


class Work:
    """Stands for the child process: keeps what it was given, gives back a document."""

    def __init__(self, document: Mapping[str, Any]) -> None:
        self.document = document
        self.payload: Mapping[str, Any] = {}

    def run(self, target: str, payload: Mapping[str, Any], **_: object) -> Mapping[str, Any]:
        """Take an order as `run_job` does."""
        assert target == "claybed.actions.casing:run"
        self.payload = payload
        (Path(payload["out"]) / "cases.json").write_text("{}")
        return self.document


def test_what_is_typed_is_what_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every option reaches the work, in mm, and the folder is named after the plan unless asked."""
    work = Work(DOCUMENT)
    monkeypatch.setattr(worker, "run_job", work.run)
    words = ["--printer", "8x9x10in", "--plastic", "petg", "--clearance", "0.3mm", "--wall", "4mm",
             "--draft", "3", "--piece", "a", "--block-and-case", "--slots", "all"]  # fmt: skip
    assert main(["cases", str(tmp_path / "gourd.claybed"), *words]) == EXIT_DONE
    ask = work.payload["ask"]
    assert ask.printer_mm == pytest.approx((203.2, 228.6, 254.0))
    assert (ask.plastic, ask.clearance_mm, ask.wall_mm, ask.draft_deg, ask.piece, ask.generations) == (
        "petg", 0.3, 4.0, 3.0, "A", 2,
    )  # fmt: skip
    assert ask.slots == "all"
    assert (tmp_path / "gourd-cases" / "cases.json").exists()
    assert "claybed why" in capsys.readouterr().out
    assert main(["cases", str(tmp_path / "gourd.claybed")]) == EXIT_DONE
    assert work.payload["ask"] == CaseAsk() and work.payload["paper"] == "a4"


def test_what_is_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Parts, plastic, weights and findings stand on the screen, in inches and pounds when asked."""
    monkeypatch.setattr(worker, "run_job", Work(DOCUMENT).run)
    assert main(["cases", str(tmp_path / "p"), "--out", str(tmp_path / "c")]) == EXIT_DONE
    shown = capsys.readouterr().out
    for text in ("102 × 127 × 51 mm", "907 g", "2 days", "8.250 kg", "one check hold", "cool water"):
        assert text in shown
    assert main(["cases", str(tmp_path / "p"), "--out", str(tmp_path / "d"), "--units", "us"]) == EXIT_DONE
    shown = " ".join(capsys.readouterr().out.split())
    assert "2 lb" in shown and "129 °F" in shown and " mm" not in shown


def test_cuts_and_slots_are_told_in_sentences(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Bolts, level cuts, crowns and finger slots stand below the table, in the units that were asked for."""
    more = {
        "joints": [{}], "levels_mm": [101.6], "bolts_count": 24, "bolt_newtons": 3.4, "crowns": ["A7"],
        "slots": [{}, {}], "slot_wall_mm": 25.4, "cores": [{"id": "A-core1"}], "drawn_aslant_deg": 7.1,
    }  # fmt: skip
    monkeypatch.setattr(worker, "run_job", Work(DOCUMENT | {"cases": [CASE | more]}).run)
    assert main(["cases", str(tmp_path / "p"), "--out", str(tmp_path / "c")]) == EXIT_DONE
    shown = " ".join(capsys.readouterr().out.split())
    for text in (
        "24 bolts, cut by height too, 102 mm up; one bears 3 N",
        "above the cut: A7.",
        "two finger slots",
        "after the piece: A-core1.",
        "leaves its case 7° aslant.",
    ):
        assert text in shown
    assert main(["cases", str(tmp_path / "p"), "--out", str(tmp_path / "d"), "--units", "us"]) == EXIT_DONE
    shown = " ".join(capsys.readouterr().out.split())
    assert "4 in up" in shown and "with 1 in of plaster" in shown


def test_a_case_that_must_not_be_poured_ends_with_4(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A check that fails is told with place and remedy, and the command ends with 4."""
    bad = CHECK | {"ok": False, "measured": 0.4, "where": "piece A against all parts"}
    monkeypatch.setattr(worker, "run_job", Work(DOCUMENT | {"ready": False, "checks": [bad]}).run)
    assert main(["cases", str(tmp_path / "p"), "--out", str(tmp_path / "c")]) == EXIT_NOT_READY
    shown = capsys.readouterr().out
    assert "0.4 mm" in shown and "piece A against all parts" in shown and "one part" in shown


def test_too_hot_a_pour_names_the_plastic_to_print_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the plastic would give the command ends with 4, and the next line is the one that passes."""
    hot = FINDING | {"severity": "stop"}
    case = CASE | {"plastics_that_pass": ["petg", "abs"]}
    document = DOCUMENT | {"ready": False, "findings": [hot], "cases": [case]}
    monkeypatch.setattr(worker, "run_job", Work(document).run)
    words = ["--out", str(tmp_path / "c"), "--piece", "a", "--block-and-case"]
    assert main(["cases", str(tmp_path / "p"), *words]) == EXIT_NOT_READY
    shown = " ".join(capsys.readouterr().out.split())
    assert "--plastic petg --piece a --out" in shown and shown.endswith("--block-and-case")


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (["--printer", "220x220mm"], "--printer"),
        (["--clearance", "-1mm"], "--clearance"),
        (["--slots", "some"], "--slots"),
        (["--wall", "thick"], "--wall"),
        (["--block-and-case", "--generations", "1"], "--generations"),
        (["--paper", "a3"], "--paper"),
        (["--units", "roman"], "--units"),
    ],
)
def test_what_cannot_be_read_is_named(
    words: list[str], named: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A word that says nothing is refused with its option, and nothing is written."""
    assert main(["cases", str(tmp_path / "p"), *words]) == EXIT_BAD_INPUT
    assert named in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_plan_for_cases_leads_to_them() -> None:
    """A plan whose pours are held by cases names the command that makes them; another does not."""
    pours = [{"piece": "A"}]
    plan: dict[str, Any] = {"ready": True, "pours": pours, "made": {"brief": {"form": "case"}}}
    folder = Path("gourd.claybed")
    assert next_words(plan, Path("gourd.stl"), folder, {}) == ["claybed", "cases", "gourd.claybed"]
    plan["made"]["brief"]["form"] = "boards"
    assert next_words(plan, Path("gourd.stl"), folder, {})[1] == "why"


def test_a_folder_that_is_no_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without a plan is refused, and no folder of cases is left."""
    assert main(["cases", str(tmp_path)]) == EXIT_BAD_INPUT
    assert "plan" in capsys.readouterr().err
    assert not tmp_path.with_name(f"{tmp_path.stem}-cases").exists()
