"""Keys of a side piece: bumps that go into every main piece it meets and let it close one way only."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from claybed.geometry.carving import Section, Solid, Workbench, cone, moved, outlines, polygon, spots
from claybed.geometry.lattice import pull_rotation
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.nearby import Shaft
from claybed.geometry.registration import closing_miss_mm, pattern_miss_mm
from claybed.mold.key_sizes import key_sizes
from claybed.mold.side_faces import Interface
from claybed.mold.side_level import practice
from claybed.records.assembly import BlockKey, Piece

Plane = tuple[Floats, float]
# Places for keys are tried so far apart: less than the radius of the smallest one.
KEY_SPACING_MM = 4.0
# Sections nearer to each other than this are one.
JOIN_MM = 0.01
# An interface this far under its level dips.
DIPS_MM = 0.05
MOST_SPOTS = 60
MOST_PAIRS = 400
# A plane that leans less than this sine off an interface does not cross it; a half plane is so large.
FLAT_SINE = 1e-6
FAR_MM = 1e4


@dataclass(frozen=True, slots=True, eq=False)
class Earlier:
    """Keys of the side pieces that were cut before.

    `patterns` how each one's lie across its pull, (k, 2) mm; `pairs` by main piece the two that the first of
    them has there, (2, 2) mm: across, as seen from outside, and up.
    """

    patterns: Sequence[Floats] = ()
    pairs: Mapping[str, Floats] = field(default_factory=dict)


def key_shaft(key: BlockKey, rotation: Floats) -> Shaft:
    """Where a side piece's key reaches below its level; `rotation` (3, 3) into the frame of its pull."""
    x, y, level_mm = (float(v) for v in rotation @ np.array(key.at_mm))
    radius_mm = key.diameter_mm / 2.0
    return Shaft((x - radius_mm, y - radius_mm), (x + radius_mm, y + radius_mm), level_mm - key.depth_mm)


def with_keys(
    face: Interface,
    bench: Workbench,
    mains: Mapping[str, Section],
    block: Solid,
    letter: str,
    later: Sequence[Plane],
    earlier: Earlier | None = None,
) -> tuple[Interface, list[BlockKey]]:
    """The interface with bumps of the side piece that go into every main piece it meets, and into what each
    `later` side piece takes of them, in an arrangement that closes one way; as it was when no size fits.

    Where none fits into what a later piece takes, there are none there. The arrangement is unlike those of
    `earlier` side pieces, so that none goes in another's place; and so are its pairs in main pieces that have
    no keys of each other, so that these do not go in turned. Where no unlike one fits, like ones are used.

    `mains` are sections of them at the interface's level, in the plan of its pull; `block` is what is left of
    it. Source: materials/practice.
    """
    sections = dict(mains)
    if face.plug is not None:
        opening = moved(face.plug, face.rotation).slice(face.level_mm)
        sections = {name: section - opening for name, section in sections.items()}
    if face.skirt is not None:
        opening = face.skirt.slice(face.level_mm - DIPS_MM)
        sections = {name: section - opening for name, section in sections.items()}
    sections = {name: section for name, section in sections.items() if section.area() > 1.0}
    outer, _ = outlines(moved(block, face.rotation).slice(face.level_mm))
    if not sections or not outer:
        return face, []
    rim = max(outer, key=len)
    clear_mm = max(practice("key_to_edge_least_mm"), practice("key_to_cavity_least_mm"))
    sizes = key_sizes()
    reached = _reached(sections, sizes[-1].diameter_mm / 2.0 + clear_mm, face, later)
    letters = {chr(ord(letter) + 1 + k): k for k in reached}
    known = earlier or Earlier()
    strict = [known, replace(known, pairs={})] if known.pairs else [known]
    loose = [replace(kind, patterns=()) for kind in strict] if len(known.patterns) else []
    ways = [(kind, letters) for kind in strict] if letters else []
    ways += [(kind, {}) for kind in (*strict, *loose)]
    for (unlike, beside), (diameter_mm, depth_mm) in itertools.product(ways, sizes):
        chosen = _arranged(sections, rim, diameter_mm, clear_mm, face, later, unlike, beside)
        if chosen is None:
            continue
        tool, keys = face.tool, []
        for name, spot in chosen:
            at = (*spot.tolist(), face.level_mm - depth_mm)
            bump = cone(
                at, practice("key_tip_to_diameter_ratio") * diameter_mm / 2.0, diameter_mm / 2.0, depth_mm
            )
            over = cone((*spot.tolist(), face.level_mm), diameter_mm / 2.0, diameter_mm / 2.0, 0.5)
            # One convex body: by rounding, the two may lie a hair apart where they meet.
            placed = moved(bench.marked((bump + over).hull(), Origin.KEY), face.rotation.T)
            tool = tool + placed
            x, y, z = (float(v) for v in np.array([*spot.tolist(), face.level_mm]) @ face.rotation)
            keys.append(BlockKey((x, y, z), diameter_mm, depth_mm, letter, name))
        return replace(face, tool=tool), keys
    return face, []


def earlier_keys(keys: Sequence[BlockKey], pieces: Sequence[Piece]) -> Earlier:
    """What later side pieces have to know of the keys of those `pieces` that were cut before."""
    patterns: list[Floats] = []
    pairs: dict[str, Floats] = {}
    for piece in pieces:
        rotation = pull_rotation(piece.pull)
        own = [key for key in keys if key.bump_on == piece.id]
        at = np.array([key.at_mm for key in own]).reshape(-1, 3)
        patterns.append(at @ rotation[:2].T)
        for name in dict.fromkeys(key.socket_in for key in own):
            pair = at[[key.socket_in == name for key in own]]
            if len(pair) == 2:
                pairs.setdefault(name, _from_outside(pair, rotation))
    return Earlier(patterns, pairs)


def _from_outside(at: Floats, rotation: Floats) -> Floats:
    """Points (n, 3) of the block as a side piece's pull sees them: (n, 2), across and up."""
    up = np.array([0.0, 0.0, 1.0])
    seen: Floats = at @ np.stack([np.cross(up, rotation[2]), up]).T
    return seen


def keys_beside(
    keys: Sequence[BlockKey], face: Interface, letter: str, mains: Mapping[str, Solid]
) -> list[BlockKey]:
    """Keys after a further piece was cut: one of the main pieces beyond its interface is gone, one of an
    earlier further piece has its socket in the new one.
    """
    kept = []
    for key in keys:
        if float(face.over_mm(np.array([key.at_mm]))[0]) < 0.0:
            kept.append(key)
        elif key.bump_on not in mains:
            kept.append(replace(key, socket_in=letter))
    return kept


def _reached(
    sections: Mapping[str, Section], room_mm: float, face: Interface, later: Sequence[Plane]
) -> list[int]:
    """Which of the `later` pieces take enough of the sections for a key that wants `room_mm` round its
    middle, numbers into `later`.
    """
    every = sum(sections.values(), Section()).offset(JOIN_MM).offset(-JOIN_MM)
    at = spots(every.offset(-room_mm), KEY_SPACING_MM)
    placed = np.column_stack([at, np.full(len(at), face.level_mm)]) @ face.rotation
    return [
        number
        for number, (away, level_mm) in enumerate(later)
        if bool(
            (
                (placed @ away - level_mm > room_mm)
                & np.all([placed @ other - mm < -room_mm for other, mm in later[:number]], axis=0)
            ).any()
        )
    ]


def _arranged(
    sections: dict[str, Section],
    rim: Floats,
    diameter_mm: float,
    clear_mm: float,
    face: Interface,
    later: Sequence[Plane],
    unlike: Earlier,
    beside: Mapping[str, int],
) -> list[tuple[str, Floats]] | None:
    """Two places for keys in every section (three in a single one), and in what each of the `later` pieces
    that are named `beside` takes of them all, in no arrangement like those `unlike`; None when they do not
    fit. Where that would be more than enough to hold a piece, one place beside each later piece.

    `beside` gives for a letter its place among `later`.
    """
    room_mm = diameter_mm / 2.0 + clear_mm
    each = 3 if len(sections) + len(beside) == 1 else 2
    grounds = {name: (section, len(later)) for name, section in sections.items()}
    if beside:
        # Pieces beside one another in plan are one ground for a piece that takes of both.
        every = sum(sections.values(), Section()).offset(JOIN_MM).offset(-JOIN_MM)
        grounds |= {name: (every, k) for name, k in beside.items()}
    single = set(beside) if each * len(grounds) > practice("side_keys_most_count") else set()
    apart = _lie_apart(list(sections.values()), face, later)
    # Main pieces that side pieces part all round end not far beyond the object.
    spacing_mm = KEY_SPACING_MM / 2.0 if apart else KEY_SPACING_MM
    places: dict[str, Floats] = {}
    for name, (section, number) in grounds.items():
        at = spots(section.offset(-room_mm), spacing_mm)
        placed = np.column_stack([at, np.full(len(at), face.level_mm)]) @ face.rotation
        over = np.array([placed @ away - level_mm for away, level_mm in later]).reshape(len(later), len(at))
        free = (over[:number] < -room_mm).all(axis=0)
        if number < len(later):
            free &= over[number] > room_mm
        at = at[free]
        if len(at) < (1 if name in single else each):
            return None
        if len(at) > MOST_SPOTS:
            at = at[np.linspace(0, len(at) - 1, MOST_SPOTS).astype(int)]
        places[name] = at
    chosen: list[tuple[str, Floats]] = []
    for name, at in places.items():
        slants, aside_mm = None, None
        if apart and name in sections:
            slants = _slants(name, sections)
            if name in unlike.pairs:
                placed = np.column_stack([at, np.full(len(at), face.level_mm)]) @ face.rotation
                aside_mm = _pair_misses_mm(_from_outside(placed, face.rotation), unlike.pairs[name])
        last = name == list(places)[-1]
        for tried in _tried(name, at, diameter_mm, 1 if name in single else each, chosen, slants, aside_mm):
            spread = np.array([spot for _, spot in tried])
            if not last or (
                closing_miss_mm(spread, rim, diameter_mm / 2.0) >= diameter_mm / 2.0
                and all(pattern_miss_mm(spread, other) >= diameter_mm / 2.0 for other in unlike.patterns)
            ):
                chosen = tried
                break
        else:
            return None
    return chosen


def _lie_apart(sections: Sequence[Section], face: Interface, later: Sequence[Plane]) -> bool:
    """Whether two main pieces lie apart in what the `later` pieces leave of their sections: as they do not
    meet, no keys of their own tell one from the other.
    """
    if len(sections) < 2:
        return False
    left = [section.offset(JOIN_MM) for section in sections]
    for away, level_mm in later:
        slope = face.rotation[:2] @ away
        steep = float(np.linalg.norm(slope))
        if steep < FLAT_SINE:
            continue
        # Where the later piece's level meets this one, and the side of it that it leaves.
        out = slope / steep
        at = (level_mm - face.level_mm * float(face.rotation[2] @ away)) / steep * out
        along = FAR_MM * np.array([-out[1], out[0]])
        kept = polygon(
            np.array([at + along, at + along - FAR_MM * out, at - along - FAR_MM * out, at - along])
        )
        left = [section ^ kept for section in left]
    return bool((left[0] ^ left[1]).area() <= JOIN_MM**2)


def _slants(name: str, sections: Mapping[str, Section]) -> Floats:
    """Ways (2, 2) along and across by which pairs of keys in two main pieces that lie apart are told: they
    slant one way in the one and the other way in the other, as seen from outside on every side, so that
    neither goes in the other's place at any turn.
    """
    first, second = (np.array(section.bounds()).reshape(2, 2).mean(axis=0) for section in sections.values())
    along = (second - first) / np.linalg.norm(second - first)
    hand = 1.0 if name == next(iter(sections)) else -1.0
    return np.stack([along, hand * np.array([-along[1], along[0]])])


def _pair_misses_mm(at: Floats, pair: Floats) -> Floats:
    """By how much each two of some places (k, 2), across and up, miss a pair (2, 2) when they are shifted
    across to where they fit best, in the order of `np.tril_indices`.
    """
    one, two = np.tril_indices(len(at), -1)
    off = np.stack([[at[one], at[two]], [at[two], at[one]]]) - pair[None, :, None]
    off[..., 0] -= off[..., 0].mean(axis=1, keepdims=True)
    misses: Floats = np.linalg.norm(off, axis=3).max(axis=1).min(axis=0)
    return misses


def _tried(
    name: str,
    at: Floats,
    diameter_mm: float,
    each: int,
    chosen: list[tuple[str, Floats]],
    slants: Floats | None,
    aside_mm: Floats | None,
) -> Iterator[list[tuple[str, Floats]]]:
    """Ways to add `each` keys at some of the places (k, 2) mm to those `chosen`, the widest apart first.

    With `slants`, the ways (2, 2) along and across, the second key of a pair stands further along by half a
    diameter or more where it stands further across. With `aside_mm`, by how much each two places, as
    `np.tril_indices` gives them, miss a pair they must not fit, they miss it by enough.
    """
    if each == 1:
        others = np.array([spot for _, spot in chosen])
        gap_mm = np.linalg.norm(at[:, None] - others[None], axis=2).min(axis=1)
        for k in np.argsort(-gap_mm, kind="stable").tolist():
            if gap_mm[k] < 2.0 * diameter_mm:
                return
            yield [*chosen, (name, at[k])]
        return
    one, other_end = np.tril_indices(len(at), -1)
    apart_mm = np.linalg.norm(at[one] - at[other_end], axis=1)
    if slants is not None:
        along, across = ((at[other_end] - at[one]) @ slants.T).T
        apart_mm = np.where(along * np.sign(across) >= diameter_mm / 2.0, apart_mm, 0.0)
    if aside_mm is not None:
        apart_mm = np.where(aside_mm >= practice("key_aside_least_ratio") * diameter_mm, apart_mm, 0.0)
    for k in np.argsort(-apart_mm, kind="stable")[:MOST_PAIRS].tolist():
        i, j = int(one[k]), int(other_end[k])
        if apart_mm[k] < 2.0 * diameter_mm:
            return
        tried = [*chosen, (name, at[i]), (name, at[j])]
        if each == 3:
            far = np.minimum(np.linalg.norm(at - at[i], axis=1), np.linalg.norm(at - at[j], axis=1))
            tried.append((name, at[int(np.argmax(far))]))
        yield tried
