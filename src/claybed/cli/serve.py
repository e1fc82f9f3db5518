"""`claybed serve`: the studio app on this machine, and on the studio's network when asked."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claybed.actions.asking import SYSTEMS, choice, whole
from claybed.cli import output
from claybed.errors import EXIT_DONE, InputError


def serve(
    data: Annotated[
        Path | None,
        typer.Option(
            "--data", metavar="DIR", help="Folder of the register and its files.", show_default=False
        ),
    ] = None,
    port: Annotated[int, typer.Option("--port", metavar="N", help="Port to listen on.")] = 8731,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let the studio's other devices in, by a code that is printed.")
    ] = False,
    upload: Annotated[int, typer.Option("--upload-mb", metavar="N", help="Largest file to take, MB.")] = 200,
    units: Annotated[str, typer.Option("--units", metavar="metric|us", help="Units shown first.")] = "metric",
) -> int:
    """Open the studio app: objects, molds, pour day, shelf and register, in a browser on this machine.

    Listens on this machine only. With --lan it also lets in devices that have the code it prints.
    """
    import gc
    import socket

    # What is loaded to serve stays for good: looking through it again and again only delays the first page.
    gc.disable()
    import uvicorn

    from claybed.register import devices
    from claybed.web.board import now_text
    from claybed.web.front import Front
    from claybed.web.settings import Settings, default_data, own_names

    gc.freeze()
    gc.enable()
    whole(port, 1, most=65535, where="--port")
    whole(upload, 1, most=4000, where="--upload-mb")
    names = own_names() if lan else ()
    settings = Settings(
        data=(data or default_data()).absolute(),
        host="0.0.0.0" if lan else "127.0.0.1",
        port=port,
        lan=lan,
        names=names,
        upload_mb=upload,
        us=choice(units, SYSTEMS, where="--units") == "us",
    )
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, port))
        except OSError as error:
            raise InputError(
                f"port {port} cannot be used ({error.strerror}).",
                where="--port",
                remedy="Another claybed may be running; close it, or give another --port.",
            ) from error
    front = Front(settings)
    output.say(f"claybed is open at http://127.0.0.1:{port}/ (Ctrl-C closes it).")
    if lan:
        with front.studio.register.writing() as db:
            _, token = devices.let_in(db, name="a device with the printed code", role="bench", now=now_text())
        address = next((name for name in names if name[:1].isdigit()), names[0])
        link = f"http://{address}:{port}/in?token={token}"
        output.say(f"Other devices: {link}")
        output.say("This code travels unsealed over the network: use it only on a network you trust.")
        _print_code(link)
    uvicorn.run(
        front,
        host=settings.host,
        port=port,
        log_level="warning",
        access_log=False,
        server_header=False,
        loop="asyncio",
        http="h11",
        ws="none",
        lifespan="on",
        timeout_graceful_shutdown=3,
    )
    return EXIT_DONE


def _print_code(link: str) -> None:
    import sys

    import segno

    if sys.stdout.isatty():
        segno.make(link, micro=False).terminal(compact=True)
