"""How a command is added to the command line: with an example, and flags that do not ask for a value."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup


class _Command(TyperCommand):
    def get_params(self, ctx: Any) -> list[Any]:
        return _flags_alone(super().get_params(ctx))


class _Group(TyperGroup):
    def get_params(self, ctx: Any) -> list[Any]:
        return _flags_alone(super().get_params(ctx))


def _flags_alone(params: list[Any]) -> list[Any]:
    # Typer's help writes the type of a flag after its name, --help included, as if one had to be typed.
    for param in params:
        if getattr(param, "is_flag", False) and param.metavar is None:
            param.metavar = ""
    return params


def group(name: str, told: str, *, example: str, **more: Any) -> typer.Typer:
    """Return a group of commands, told in one sentence, with an example of one of them."""
    return typer.Typer(
        name=name,
        help=told,
        epilog=f"Example: {example}",
        cls=_Group,
        add_completion=False,
        pretty_exceptions_enable=False,
        **more,
    )


def add(to: typer.Typer, command: Callable[..., int | None], example: str) -> None:
    """Add a command, named as its function, with an example of it below its help."""
    to.command(cls=_Command, epilog=f"Example: {example}")(command)
