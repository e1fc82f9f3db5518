"""The `claybed` command: its commands, its one-line errors and its exit codes."""

from __future__ import annotations

import os
import re
import signal
import sys
from collections.abc import Callable, Sequence
from itertools import pairwise
from types import FrameType
from typing import Annotated, Any, Final, cast

import typer

from claybed import __version__
from claybed.cli import (
    cases,
    casting,
    chart,
    drying,
    mat,
    mixing,
    planning,
    pressing,
    proving,
    schema,
    serve,
    shrinking,
    slip,
    surveying,
    why,
)
from claybed.cli.commands import add, group
from claybed.cli.object.app import app as object_app
from claybed.cli.studio import app as studio_app
from claybed.errors import EXIT_BAD_INPUT, EXIT_CANCELLED, EXIT_DONE, Cancelled, ClaybedError
from claybed.wording import in_system

# Typer carries its usage errors under different module names from release to release; this is their common
# root.
_USAGE_ERROR = cast("type[Exception]", typer.BadParameter.__mro__[2])
_BROKEN_PIPE = 128 + signal.SIGPIPE

app = group(
    "claybed",
    "Plans plaster molds for ceramics from an object's geometry.",
    example="claybed plan gourd.stl --height 180mm --out gourd.claybed",
    context_settings={"help_option_names": ["-h", "--help"]},
)
_COMMANDS: Final[tuple[tuple[Callable[..., int | None], str], ...]] = (
    (planning.plan, "claybed plan gourd.stl --height 180mm --mass 310g --out gourd.claybed"),
    (surveying.survey, "claybed survey gourd.stl --height 180mm"),
    (proving.prove, "claybed prove gourd.claybed --why"),
    (mixing.mix, "claybed mix --box 200x150x90mm --object-volume 750ml --why"),
    (chart.chart, "claybed chart --ratio 1:1.3 --out wall-chart.pdf"),
    (why.why, "claybed why gourd.claybed pours.A.plaster_g"),
    (serve.serve, "claybed serve --lan"),
    (shrinking.shrink, "claybed shrink --fired 250mm --total 12%"),
    (slip.slip, "claybed slip --clay 20kg --water 8.4L --deflocculant 100g"),
    (casting.cast, "claybed cast --test-wall 4mm --test-minutes 5 --wall 5mm"),
    (pressing.press, "claybed press --area 600cm2 --thickness 6mm --seam 500mm"),
    (cases.cases, "claybed cases gourd.claybed --printer 220x220x250mm --plastic petg"),
    (drying.dry, "claybed dry --wet 2450g --log mold.jsonl --weigh 2105g"),
    (mat.mat, "claybed mat --paper a4 --out mat.pdf"),
    (schema.schema, "claybed schema > plan.schema.json"),
)
for _command, _example in _COMMANDS:
    add(app, _command, _example)
app.add_typer(object_app)
app.add_typer(studio_app)


def _print_version(asked: bool) -> None:
    if asked:
        typer.echo(f"claybed {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_print_version, is_eager=True)
    ] = False,
) -> None:
    pass


def _asks_us(words: Sequence[str]) -> bool:
    """Whether a command line asks for US units, so that its refusal comes in them too."""
    return "--units=us" in words or ("--units", "us") in pairwise(words)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit code: 0 done, 2 bad input, 3 cannot, 4 not ready to pour,
    130 stopped.

    Errors go to standard error as one line: where, what, and what to do.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(
                errors="replace"
            )  # a terminal without the multiplication sign must not end the work
    if arguments is None:  # this process is ours, so being told to end or losing the terminal ends it tidily
        for stop in (signal.SIGTERM, signal.SIGHUP):
            signal.signal(stop, _stop)
    words = list(sys.argv[1:] if arguments is None else arguments) or ["--help"]
    try:
        code = app(args=words, prog_name="claybed", standalone_mode=False)
        sys.stdout.flush()
    except ClaybedError as error:
        _complain(in_system(str(error), us=_asks_us(words)), error)
        return error.exit_code
    except _USAGE_ERROR as problem:
        return _usage(problem)
    except (KeyboardInterrupt, typer.Abort):
        _complain(str(Cancelled("stopped; nothing was left behind.")))
        return EXIT_CANCELLED
    except BrokenPipeError:  # the reader of our output, such as `head`, has had enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _BROKEN_PIPE
    return code if isinstance(code, int) else EXIT_DONE


def _stop(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _usage(problem: Any) -> int:
    context = getattr(problem, "ctx", None)
    command = context.command_path if context is not None else "claybed"
    _complain(f"{_sentence(_plain_words(problem.format_message()))} See {command} --help.", name=command)
    return EXIT_BAD_INPUT


def _plain_words(text: str) -> str:
    """A complaint about a number, as the reader of options puts it, in words of our own."""
    text = re.sub(r"Input should be a valid integer\b.*", "it takes a whole number, such as 2", text)
    return re.sub(r"Input should be a valid number\b.*", "it takes a number, such as 2.5", text)


def _sentence(text: str) -> str:
    """A message with one mark at its end."""
    text = text.strip().rstrip(".")
    return text if text.endswith(("?", "!")) else f"{text}."


def _complain(text: str, error: BaseException | None = None, *, name: str = "claybed") -> None:
    sys.stderr.write(f"{name}: {' '.join(text.split())}\n")
    if error is not None and os.environ.get("CLAYBED_TRACE"):
        sys.stderr.write("\n".join([*getattr(error, "__notes__", []), ""]))
