"""Molds of one main piece: what lies under the object leaves with a side piece."""

from __future__ import annotations

from dataclasses import replace

from claybed.records.assembly import Assembly


def lettered_anew(assembly: Assembly) -> Assembly:
    """A mold whose second main piece went to its last side piece, without it: letters and orders without a
    gap, keys and contacts told of the piece that has it now.
    """
    kept = [piece for piece in assembly.pieces if piece.id != "B"]
    letter = {piece.id: chr(ord("A") + k) for k, piece in enumerate(kept)}
    base = letter[kept[-1].id]
    letter["B"] = base
    pieces = tuple(
        replace(piece, id=letter[piece.id], order=k + 1, opens=k if k else len(kept))
        for k, piece in enumerate(kept)
    )
    keys = tuple(
        replace(key, bump_on=letter[key.bump_on], socket_in=letter[key.socket_in] if key.socket_in else "")
        for key in assembly.keys
    )
    contacts = dict.fromkeys(
        (min(pair), max(pair))
        for one, two in assembly.contacts
        if len(set(pair := (letter[one], letter[two]))) == 2
    )
    return replace(assembly, pieces=pieces, keys=keys, contacts=tuple(contacts), base=base)
