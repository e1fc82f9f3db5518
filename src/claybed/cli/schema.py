"""`claybed schema`: what is in a plan's JSON."""

from __future__ import annotations

import json

import typer


def schema() -> None:
    """Print the JSON Schema of a plan: every key, its unit and what it means."""
    from claybed.actions.describe_schema import plan_schema_document

    typer.echo(json.dumps(plan_schema_document(), indent=2, ensure_ascii=False))
