"""How the app is run: where it keeps things, and who may come in."""

from __future__ import annotations

import os
import socket
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

DEFAULT_PORT: Final = 8731
LOOPBACK: Final = ("127.0.0.1", "localhost", "[::1]", "::1")


@dataclass(frozen=True, slots=True)
class Settings:
    """`data` folder of register and files; `host` and `port` to listen on; `lan` opens it to the network;
    `names` under which other machines know this one; `upload_mb` the largest file taken; `us` US units first;
    `demo` shows the demonstration studio when the register is empty.
    """

    data: Path
    host: str = "127.0.0.1"
    port: int = DEFAULT_PORT
    lan: bool = False
    names: tuple[str, ...] = field(default_factory=tuple)
    upload_mb: int = 200
    us: bool = False
    demo: bool = True

    @property
    def hosts(self) -> frozenset[str]:
        """Host names a request may ask for; any other is another site's trick."""
        return frozenset(name.casefold() for name in (*LOOPBACK, *(self.names if self.lan else ())))


def default_data() -> Path:
    """Where the studio's data are kept: claybed under $XDG_DATA_HOME, or under ~/.local/share."""
    home = os.environ.get("XDG_DATA_HOME", "")
    base = Path(home) if home and Path(home).is_absolute() else Path.home() / ".local" / "share"
    return base / "claybed"


def own_names() -> tuple[str, ...]:
    """Names and addresses by which this machine is found on its network; asks no other machine."""
    names = {socket.gethostname(), f"{socket.gethostname().split('.')[0]}.local"}
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Choosing the way out sends nothing; the address is one that is kept for documentation.
            probe.connect(("192.0.2.1", 9))
            names.add(str(probe.getsockname()[0]))
        except OSError:
            pass
    return tuple(sorted(names))
