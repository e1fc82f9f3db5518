"""Foot and side pieces: what a mold of two pieces leaves locked is given to further pieces.

Each takes everything beyond a level interface square to its own pull, and reaches from there into the pockets
of the object that only it can leave. It leaves before the two main pieces, so that whatever it takes from
them frees them as well: a piece never gets into another's way that has already gone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial, reduce
from itertools import filterfalse

import numpy as np

from claybed.geometry.barred import Barred
from claybed.geometry.carving import Solid, Workbench, reaching_in
from claybed.geometry.labelling import freed_of_fill
from claybed.geometry.lattice import UNITS_PER_MM, LatticeMesh, lattice_mm
from claybed.geometry.level_sections import section_at
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.nearby import Near, Shaft, body_and_crumbs, near
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.unfolding import without_slits
from claybed.materials import shelf
from claybed.mold.basing import lettered_anew
from claybed.mold.crumbs import (
    all_faces,
    below,
    handed_out,
    held_up,
    is_flake,
    let_go,
    lies_within,
    reached,
    settled,
    whole_of,
)
from claybed.mold.in_block import block_of, inside_mm3
from claybed.mold.interfaces import lay_interface, least_plug_mm3, reaching
from claybed.mold.loosened import given_away
from claybed.mold.ring_bridges import BridgeError, bridge_to
from claybed.mold.seam_lines import all_beyond, on_surface, up_to
from claybed.mold.side_dips import beyond_plane
from claybed.mold.side_faces import Interface
from claybed.mold.side_keys import Earlier, earlier_keys, key_shaft, keys_beside, with_keys
from claybed.mold.side_level import NOWHERE
from claybed.mold.widening import REACH_ROOM_MM, ReachError, at_rest_of
from claybed.records.assembly import BLOCK_FRAME, Assembly, BlockKey, Piece
from claybed.records.parted import Layout

Vector = tuple[float, float, float]
# A cut that reaches what was left out is made again so often before everything takes part.
MOST_WIDENED = 3
# Corners this near to an interface lie on it.
AGAINST_MM = 0.005
# Of fewer faces, everything is cut as soon as the part is.
FEW_FACES = 60_000
# What is left of a piece that is taken whole is rounding up to this.
CRUMB_MM3 = 1.0


def with_sides(
    assembly: Assembly,
    source: LatticeMesh,
    layout: Layout,
    pulls: Sequence[Vector],
    *,
    keys_asked: bool,
    barred: Barred = NOWHERE,
    over: bool = False,
    based: bool = False,
    most_ml: float = math.inf,
) -> tuple[Assembly, float]:
    """As `add_sides`, with `source` on the lattice of the pull frame and `pulls` in that frame; `layout` is
    the one that was cut.
    """
    turn = np.rint(assembly.to_block @ layout.rotation.T).astype(np.int64)
    lift = np.rint((assembly.shift_mm - turn @ layout.shift_mm) * UNITS_PER_MM).astype(np.int64)
    barred = barred.placed(turn.astype(float), lift / UNITS_PER_MM)
    placed = replace(source, points=source.points @ turn.T + lift)
    own = tuple(_vector(turn @ np.array(pull)) for pull in pulls)
    return add_sides(
        assembly,
        placed,
        own,
        keys_asked=keys_asked,
        barred=barred,
        over=over,
        based=based,
        most_ml=most_ml,
    )


def add_sides(
    assembly: Assembly,
    source: LatticeMesh,
    pulls: Sequence[Vector],
    *,
    keys_asked: bool,
    barred: Barred = NOWHERE,
    over: bool = False,
    based: bool = False,
    most_ml: float = math.inf,
) -> tuple[Assembly, float]:
    """The mold of two pieces with one further piece for each of `pulls` (block frame, unit, in opening
    order).

    `source` is the object with its gate on the block's lattice, undercuts and all. With `over` the interfaces
    stand over the object, and only plugs meet it. When it is `based`, all under the level parting surface
    leaves with the last of `pulls`: one main piece is left, and pieces are lettered anew. Returns the mold
    and what it leaves to fill, ml; one that leaves more than `most_ml` is handed back whether or not its
    solids are clean. Raises ArithmeticError when the cuts do not give solids, or an interface cannot be laid.
    """
    cut = partial(
        _cut_sides,
        assembly,
        source,
        pulls,
        keys_asked=keys_asked,
        barred=barred,
        over=over,
        based=based,
        most_ml=most_ml,
    )
    wider: list[list[Shaft]] | None = [[] for _ in pulls]
    bridges: list[tuple[Solid, ...] | None] = [None for _ in pulls]
    few = sum(len(piece.solid.faces) for piece in assembly.pieces) < FEW_FACES
    tries = 1 if few else MOST_WIDENED
    while True:
        try:
            return cut(wider=wider, bridges=bridges)
        except ReachError as found:
            # Something reaches further than what took part in the cut: the same again with more of it.
            tries -= 1
            if wider is None or not found.places or not tries:
                wider = None
            else:
                wider[found.number] += found.places
        except BridgeError as found:
            bridges[found.number] = found.bridges


def _cut_sides(
    assembly: Assembly,
    source: LatticeMesh,
    pulls: Sequence[Vector],
    *,
    keys_asked: bool,
    barred: Barred,
    over: bool,
    based: bool,
    most_ml: float,
    wider: Sequence[Sequence[Shaft]] | None,
    bridges: Sequence[Sequence[Solid] | None],
) -> tuple[Assembly, float]:
    """As `add_sides`; `wider` are places by side piece that take part in its cut beside those it reaches,
    None when everything does, `bridges` what each leaves standing across its plug, None where that was not
    looked for yet. Raises ReachError where more has to take part, BridgeError where bridges are of use.
    """
    bench = Workbench()
    whole = wider is None
    block = block_of(bench, assembly)
    ways = {piece.id: piece.pull for piece in assembly.pieces}
    mains = {piece.id: piece.solid for piece in assembly.pieces}
    model = assembly.model
    thing = Mesh.make(lattice_mm(source.points), source.faces, frame=BLOCK_FRAME)
    pieces: list[Piece] = []
    faces: list[Interface] = []
    keys = [replace(key, socket_in="B" if key.bump_on == "A" else "A") for key in assembly.keys]
    loops = list(assembly.seam_loops)
    contacts = list(assembly.contacts)
    left = block
    clean = True
    for number, pull in enumerate(pulls):
        letter = chr(ord("C") + number)
        takes_base = based and number + 1 == len(pulls)
        if takes_base:
            # What it takes whole is on the lattice, and so has to be all that bounds it.
            laid = (bench.lay(lattice_mm(p.solid.points), p.solid.faces, p.solid.origin) for p in pieces)
            left = reduce(Solid.__sub__, laid, block)
        lay = partial(
            lay_interface,
            bench,
            source,
            left,
            pull,
            barred=barred,
            model=model,
            keys=keys,
            earlier=faces,
            over=over,
            whole=whole,
        )
        reach = partial(
            reaching,
            bench,
            thing=thing,
            model=model.mesh(BLOCK_FRAME),
            left=left,
            pull=pull,
            closely=bool(bridges[number]),
        )
        face = reach(face=lay())
        if over and face.plug is None:
            raise ArithmeticError("a side piece over the object would not meet it")
        standing = [bench.marked(bridge, Origin.PARTING) for bridge in bridges[number] or ()]
        face = replace(face, tool=reduce(Solid.__sub__, standing, face.tool))
        found: list[Solid] = []
        cut: dict[str, LatticeMesh | LatticeSolid] = {**mains, "model": model, "thing": source}
        bumps: list[BlockKey] = []
        if keys_asked:
            key = partial(
                _keyed,
                bench,
                source,
                {name: solid for name, solid in mains.items() if name == "A" or not takes_base},
                left,
                letter,
                pulls[number + 1 :],
                earlier_keys(keys, pieces),
                barred=barred,
                over=over,
            )
            face, bumps = key(face)
            if not bumps and face.dip is not None:
                # A dip that leaves no room for keys is given up where a level is good as well.
                level, others = key(reach(face=lay(dips=False)))
                face, bumps = (level, others) if others else (face, bumps)
        shafts = [*face.shafts, *(wider[number] if wider is not None else ())]
        shafts += [key_shaft(bump, face.rotation) for bump in bumps]
        parts = {name: _near(bench, solid, face, shafts, whole or takes_base) for name, solid in cut.items()}
        at_rest = partial(at_rest_of, bench, parts, number=number, face=face, shafts=shafts)
        if takes_base:
            face = replace(face, tool=face.tool + sum((parts[n].solid for n in mains if n != "A"), Solid()))
        tool = face.tool
        free = tool - parts["thing"].solid
        # Under its own ceilings the object would hold the side piece: that stays with the main pieces, and
        # with the model what was fill before.
        leaves, _, under = let_go(bench, free, face)
        side, loose = whole_of(bench, leaves, f"piece {letter}")
        filled = parts["model"].solid - side
        meets = []
        # Beside an earlier piece the tool, cut to what is left, would spare a film of rounding.
        wide = tool
        if pieces:
            beyond = block.trim_by_plane(face.rotation[2].tolist(), face.level_mm)
            wide = tool + bench.marked(beyond, Origin.PARTING)
        # What stays is spared, not put back: that would leave slits along the tool.
        spared = under
        if loose:
            spared = bench.as_it_is(under + reaching_in(Solid.compose(loose)), Origin.FILL)
        goes = wide if spared.is_empty() else wide - spared
        owns: dict[str, Solid] = {}
        crumbs: dict[str, list[Solid]] = {}
        flakes: list[Solid] = []
        for name in mains:
            part = parts[name].solid
            own = part - (goes if name == "A" or not takes_base else wide)
            if part.volume() - own.volume() > CRUMB_MM3:
                meets.append(name)
            if takes_base and name != "A":
                if own.volume() > CRUMB_MM3:
                    raise ArithmeticError("what lies under the object does not leave with its side piece")
                continue
            owns[name], came_loose = body_and_crumbs(bench, parts[name], own)
            if owns[name].is_empty():
                raise ArithmeticError(f"side pieces leave nothing of piece {name}")
            flakes += filter(is_flake, came_loose)
            crumbs[name] = list(filterfalse(is_flake, came_loose))
        given = given_away(
            bench, crumbs, {**owns, "model": filled}, {name: ways[name] for name in owns}, face, letter
        )
        for _, to, crumb in given:
            if to == letter:
                side, left = side + reaching_in(crumb), left - crumb
            elif to in owns:
                owns[to] += reaching_in(crumb)
        for name, own in owns.items():
            stands = all_faces(bench, parts[name], own)
            for stays in (one.solid for one in given if (one.of, one.to) == (name, "model")):
                if bridges[number] is None and stays.volume() > least_plug_mm3():
                    fill = parts["model"].solid - parts["thing"].solid
                    bridge = bridge_to(stays, fill, face, ways[name])
                    found += [] if bridge is None else [bridge]
                over_mm = held_up(bench, stays, stands, ways[name])
                if not whole:
                    # Both what stays and what it would hold have to have taken part.
                    places = reached(stays, over_mm, ways[name], parts[name].source, face.rotation)
                    beyond = [place for place in places if not lies_within(place, face.level_mm, shafts)]
                    if beyond:
                        raise ReachError(number, [place.widened(REACH_ROOM_MM) for place in beyond])
                column = below(bench, over_mm, ways[name], own)
                filled = filled + bench.marked(reaching_in(stays) + reaching_in(column), Origin.FILL)
                if not column.is_empty():
                    own = owns[name] = own - column
                    stands = all_faces(bench, parts[name], own)
        if found:
            raise BridgeError(number, found)
        blades = handed_out(bench, flakes, {**owns, "model": filled})
        for name, own in owns.items():
            mains[name], fine = at_rest(name, sum(blades[name], own))
            clean &= fine
        model, fine = at_rest("model", sum(blades["model"], filled))
        clean &= fine
        piece, fine = settled(bench, None, side)
        clean &= fine
        if not clean and number + 1 < len(pulls):
            raise ArithmeticError("a side piece could not be cut cleanly")
        left = left - goes
        contacts += [
            (p.id, letter) for p, beside in zip(pieces, faces, strict=True) if _touches(piece, beside)
        ]
        across = len(bridges[number] or ())
        order = len(assembly.pieces) + number + 1
        pieces.append(Piece(letter, order, pull, piece, number + 1, bridges=across))
        faces.append(face)
        loops = up_to(loops, face)
        keys = keys_beside(keys, face, letter, mains) + bumps
        contacts += [(name, letter) for name in meets]
    if not based and all_beyond(assembly.seam_loops, faces):
        contacts.remove(("A", "B"))
    # What the model holds beyond the object and its gate is what still has to be filled.
    fill_ml = max(0.0, model.volume_mm3 - inside_mm3(bench, thing, source, block, assembly)) / 1000.0
    if not clean and fill_ml <= most_ml:
        raise ArithmeticError("a side piece could not be cut cleanly")
    opened = len(pulls)
    first = [
        replace(piece, solid=mains[piece.id], opens=opened + k + 1) for k, piece in enumerate(assembly.pieces)
    ]
    # Two pieces would have needed fill where a further one now reaches: there it is the object again.
    ignored_mm = shelf.value("practice", "lock_ignore_mm").value
    freed = [
        replace(p, solid=without_slits(freed_of_fill(p.solid, source, ignored_mm))) for p in (*first, *pieces)
    ]
    # Two pieces had their seam on fill where a further piece now reaches in.
    loops = on_surface(loops, model)
    length_mm = float(sum(np.linalg.norm(np.diff(loop, axis=0), axis=1).sum() for loop in loops))
    made = replace(
        assembly,
        model=without_slits(freed_of_fill(model, source, ignored_mm)),
        pieces=tuple(freed),
        contacts=tuple(contacts),
        keys=tuple(keys),
        seam_loops=tuple(loops),
        seam_length_mm=length_mm,
        seam_flat=False,
    )
    return lettered_anew(made) if based else made, fill_ml


def _keyed(
    bench: Workbench,
    source: LatticeMesh,
    mains: Mapping[str, LatticeSolid],
    left: Solid,
    letter: str,
    following: Sequence[Vector],
    earlier: Earlier,
    face: Interface,
    *,
    barred: Barred,
    over: bool,
) -> tuple[Interface, list[BlockKey]]:
    """An interface with its keys, as `with_keys` gives it: clear of where the pieces that leave along the
    `following` pulls may dip to, or, where there is no room, of their levels.
    """
    sections = {name: section_at(solid, face.rotation, face.level_mm) for name, solid in mains.items()}
    bumps: list[BlockKey] = []
    for dips in (True, False) if barred and following else (False,):
        then = left - face.tool if dips else None
        later = [beyond_plane(bench, source, p, barred, left=then, over=over, dips=dips) for p in following]
        face, bumps = with_keys(face, bench, sections, left, letter, later, earlier)
        if bumps:
            break
    return face, bumps


def _near(
    bench: Workbench,
    solid: LatticeMesh | LatticeSolid,
    face: Interface,
    shafts: Sequence[Shaft],
    whole: bool,
) -> Near:
    """What of a solid lies near all that a side piece takes: over its level, and in `shafts`."""
    return near(bench, solid, face.rotation, face.level_mm, shafts, whole=whole)


def _touches(piece: LatticeSolid, face: Interface) -> bool:
    """Whether a side piece lies against the interface of an earlier one, by its corners."""
    off_mm = np.abs(face.over_mm(lattice_mm(piece.points)))
    return int((off_mm < AGAINST_MM).sum()) > 2


def _vector(v: Floats) -> Vector:
    x, y, z = (float(c) + 0.0 for c in v)
    return x, y, z
