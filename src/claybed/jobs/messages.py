"""What the two ends of a job say to each other, and how it is framed on the pipe."""

from __future__ import annotations

import os
import pickle
import struct
from dataclasses import dataclass, field
from typing import Any, BinaryIO

from claybed.errors import ClaybedError
from claybed.jobs.limits import Limit

_LENGTH = struct.Struct("<Q")


@dataclass(frozen=True, slots=True)
class Order:
    """What the child is to do: call `target` ("package.module:function") with the pickled `payload`."""

    target: str
    payload: bytes
    memory_mb: int | None
    phase_limits: dict[str, Limit] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Step:
    """Progress: the `phase` the child is in and how much of it is done, 0 to 1."""

    phase: str
    done: float


@dataclass(frozen=True, slots=True)
class Done:
    """The target returned `result`."""

    result: Any


@dataclass(frozen=True, slots=True)
class Refused:
    """The target raised an error that a person can act on."""

    error: ClaybedError


@dataclass(frozen=True, slots=True)
class Fault:
    """The target raised anything else: `name` and `text` of the exception, and its `trace`."""

    name: str
    text: str
    trace: str
    out_of_memory: bool


Message = Step | Done | Refused | Fault


def frame(body: bytes) -> bytes:
    """Return `body` with its length in eight bytes before it."""
    return _LENGTH.pack(len(body)) + body


def write_all(fd: int, data: bytes) -> None:
    """Write every byte of `data` to the file descriptor `fd`; raises OSError when the other end is gone."""
    view = memoryview(data)
    while view:
        view = view[os.write(fd, view) :]


def read_frame(stream: BinaryIO) -> bytes:
    """Read one framed body from a blocking `stream`; raises EOFError when it ends early."""
    (length,) = _LENGTH.unpack(_exactly(stream, _LENGTH.size))
    return _exactly(stream, length)


def _exactly(stream: BinaryIO, count: int) -> bytes:
    parts: list[bytes] = []
    while count:
        part = stream.read(count)
        if not part:
            raise EOFError("the other end of the job closed the pipe")
        parts.append(part)
        count -= len(part)
    return b"".join(parts)


class MessageReader:
    """Collects bytes as they come in and gives back whole messages."""

    def __init__(self) -> None:
        self._held = bytearray()

    def feed(self, data: bytes) -> list[Message]:
        """Add `data` and return the messages it completes, oldest first."""
        self._held += data
        messages: list[Message] = []
        while len(self._held) >= _LENGTH.size:
            (length,) = _LENGTH.unpack_from(self._held)
            end = _LENGTH.size + length
            if len(self._held) < end:
                break
            messages.append(pickle.loads(bytes(self._held[_LENGTH.size : end])))
            del self._held[:end]
        return messages
