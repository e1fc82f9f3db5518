"""Looking for something in the register by any word that was written about it."""

from __future__ import annotations

import sqlite3

from claybed.register.naming import tidy_id
from claybed.register.opening import Row, rows


def search(db: sqlite3.Connection, words: str, *, most: int = 50) -> list[Row]:
    """Objects and molds in which every word occurs (name, id, shelf, notes, slips, lots), newest first.

    Each has kind, id, name and why (the text that was found). No words find nothing.
    """
    wanted = [word for word in words.split() if word][:8]
    if not wanted:
        return []
    by_id = tidy_id(words)
    found = [one for one in rows(db, _TEXTS) if _holds(one, wanted) or one["id"] == by_id]
    for one in found:
        one["why"] = _why(str(one.pop("text")), wanted[0])
    return found[:most]


_TEXTS = """
    SELECT 'object' AS kind, id, name, made_at, name || ' ' || id || ' ' || note AS text
    FROM object WHERE removed_at IS NULL
    UNION ALL
    SELECT 'mold', m.id, m.name, m.made_at,
        m.name || ' ' || m.id || ' ' || m.shelf || ' ' || m.state || ' ' || m.note || ' '
        || coalesce((SELECT group_concat(words, ' ') FROM remark WHERE mold = m.id), '') || ' '
        || coalesce((SELECT group_concat(slip || ' ' || note, ' ') FROM casting WHERE mold = m.id), '') || ' '
        || coalesce((SELECT group_concat(lot || ' ' || note, ' ') FROM pour WHERE mold = m.id), '') || ' '
        || coalesce((SELECT o.name FROM plan p JOIN object o ON o.id = p.object WHERE p.id = m.plan), '')
    FROM mold m WHERE m.removed_at IS NULL
    ORDER BY made_at DESC
"""


def _holds(one: Row, wanted: list[str]) -> bool:
    text = str(one["text"]).casefold()
    return all(word.casefold() in text for word in wanted)


def _why(text: str, word: str) -> str:
    at = max(text.casefold().find(word.casefold()), 0)
    start = max(at - 30, 0)
    return ("… " if start else "") + " ".join(text[start : at + 50].split())
