"""What the documents claim is so: versions, verbs, commands, pinned packages."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path
from typing import Any

import pytest
import typer
from packaging.requirements import Requirement

import claybed
from claybed.cli.app import app

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTS = ("README.md", "CONTRIBUTING.md")


def project() -> dict[str, Any]:
    """Return the project table of pyproject.toml."""
    return dict(tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"])


def test_version_is_told_once() -> None:
    """The package, pyproject.toml and the newest entry of CHANGELOG.md give the same version."""
    newest = re.search(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)
    assert newest is not None
    assert project()["version"] == claybed.__version__
    assert newest[1] == claybed.__version__


def make_targets() -> set[str]:
    """Return the verbs of the Makefile, all of which are declared to be no files."""
    text = (ROOT / "Makefile").read_text("utf-8")
    phony = re.search(r"^\.PHONY: (.+)$", text, re.MULTILINE)
    assert phony is not None
    rules = set(re.findall(r"^([a-z]+):", text, re.MULTILINE))
    assert set(phony[1].split()) == rules
    return rules


def code_lines(document: str) -> list[str]:
    """Return the lines of a document's fenced, indented and inline code, with continued lines joined."""
    text = re.sub(r"\\\n\s*", " ", (ROOT / document).read_text("utf-8"))
    blocks = re.findall(r"^```[^\n]*\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
    lines = [line for block in blocks for line in block.splitlines()]
    lines += re.findall(r"^(?: {4}|\t)(\S.*)$", text, re.MULTILINE) + re.findall(r"`([^`\n]+)`", text)
    return [line.strip().removeprefix("$ ") for line in lines]


@pytest.mark.parametrize("document", DOCUMENTS)
def test_documents_name_verbs_that_exist(document: str) -> None:
    """Every `make` command that a document names is in the Makefile, and the main verbs are all named."""
    named = {line.split()[1] for line in code_lines(document) if re.match(r"make [a-z]", line)}
    assert named <= make_targets()
    assert {"demo", "test"} <= named


@pytest.mark.parametrize("document", DOCUMENTS)
def test_documents_name_options_that_exist(document: str) -> None:
    """Every `claybed` command line that a document shows uses commands and options that exist."""
    commands = typer.main.get_command(app).commands
    shown = set()
    for line in code_lines(document):
        if not re.match(r"claybed [a-z]", line):
            continue
        words = shlex.split(re.split(r"\s[|>#]", line)[0])[1:]
        assert words[0] in commands, line
        shown.add(words[0])
        command = commands[words[0]]
        if hasattr(command, "commands"):  # a group, such as claybed object
            assert words[1] in command.commands, line
            command = command.commands[words[1]]
        known = {name for parameter in command.params for name in parameter.opts}
        used = {word.split("=")[0] for word in words[1:] if re.match(r"--[a-z]", word)}
        assert used <= known | {"--help"}, line
    assert document != "README.md" or {"plan", "mix"} <= shown


def test_ci_runs_the_test_command() -> None:
    """The continuous integration script can be executed and runs `make test`, as the README says."""
    script = ROOT / ".ci" / "run"
    assert script.stat().st_mode & 0o111
    assert re.search(r"^exec make .*\btest$", script.read_text("utf-8"), re.MULTILINE)


def test_pinned_versions_fit_the_ranges() -> None:
    """requirements.txt pins every dependency that pyproject.toml names, within its range."""
    lines = (ROOT / "requirements.txt").read_text("utf-8").splitlines()
    pins = dict(line.split("==") for line in lines if line and not line.startswith("#"))
    pinned = {re.sub(r"[-_.]+", "-", name).lower(): version for name, version in pins.items()}
    for text in project()["dependencies"] + project()["optional-dependencies"]["test"]:
        requirement = Requirement(text)
        version = pinned.get(re.sub(r"[-_.]+", "-", requirement.name).lower())
        assert version is not None, text
        assert requirement.specifier.contains(version), f"{text} is pinned to {version}"


@pytest.mark.parametrize("folder", ["geometry", "flow", "sheets"])
def test_maps_of_large_folders_name_modules_that_exist(folder: str) -> None:
    """The map in a folder's `__init__.py` leads to modules that are there, each named once."""
    own = ROOT / "src" / "claybed" / folder
    text = (own / "__init__.py").read_text("utf-8")
    named = [name for name in re.findall(r"`([a-z_]+)`", text) if not name.endswith("_")]
    assert len(named) > 30
    assert len(set(named)) == len(named)
    assert [name for name in named if not (own / f"{name}.py").is_file()] == []
