"""All evidence for one mold, from the closed solids and again from the files that were written."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from claybed.geometry.mesh import Mesh
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.stl import holds, read_corners, snapped_solid
from claybed.proof.adjoining import adjoining, adjoining_limit_mm, placed
from claybed.proof.closings import close_one_way
from claybed.proof.drafts import walls_have_draft
from claybed.proof.gates import gate_open
from claybed.proof.leaving import CUT_LATERAL_MM, CUT_VOLUME_SHARE, leaving, pieces_overlap
from claybed.proof.likeness import model_true
from claybed.proof.misplacing import none_goes_elsewhere
from claybed.proof.plaster import liftable, tongue, wall
from claybed.proof.plinth import plinth
from claybed.proof.seam_edges import seam_angle, side_seam_angle
from claybed.proof.solidity import on_lattice, solidity, volumes_fill_block
from claybed.proof.thinness import plates
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.finding import Check

Progress = Callable[[str, float], None]
FILE_PREFIX = "file_"


def prove(
    assembly: Assembly, obj_mesh: Mesh, brief: Brief, wet_kg: Mapping[str, float], *, progress: Progress
) -> tuple[Check, ...]:
    """Every check of a mold, in the order a person reads them; all that is said was measured on the solids.

    `obj_mesh` the object in its own frame; `wet_kg` the weight of each piece just set, by letter.
    `progress` is told "proof" and a fraction. Raises ValueError for pulls that are not along z, a mesh of
    another frame, or a weight missing.
    """
    missing = [p.id for p in assembly.pieces if p.id not in wet_kg]
    if missing:
        raise ValueError(f"no weight is given for piece {', '.join(missing)}")
    pieces = {p.id: p.solid for p in assembly.pieces}
    solids = {**pieces, "model": assembly.model}
    progress("proof", 0.0)
    checks = solidity(solids, assembly)
    # Two pieces are cut on the lattice and exact; further ones by booleans, and held to a tolerance.
    cut_mm = CUT_LATERAL_MM if len(assembly.pieces) > 2 else 0.0
    share = CUT_VOLUME_SHARE if len(assembly.pieces) > 2 else 0.0
    laid = adjoining(solids, assembly, limit_mm=adjoining_limit_mm(assembly))
    checks += [placed(volumes_fill_block(solids, assembly, share=share), laid), *laid]
    progress("proof", 0.2)
    checks += leaving(solids, assembly, lateral_mm=cut_mm)
    progress("proof", 0.45)
    if not cut_mm:  # else the releases, each against all that is still closed, are what finds shared space
        checks.append(pieces_overlap(solids, assembly))
    progress("proof", 0.6)
    checks += close_one_way(assembly, keys_asked=brief.keys)
    checks += none_goes_elsewhere(assembly)
    checks += walls_have_draft(assembly)
    checks.append(plinth(assembly) if assembly.hump else wall(assembly))
    checks += gate_open(assembly)
    checks.append(tongue(pieces, assembly))
    checks += plates(pieces, assembly)
    progress("proof", 0.8)
    checks += [check for check in (seam_angle(assembly), side_seam_angle(assembly)) if check]
    checks.append(liftable({p.id: wet_kg[p.id] for p in assembly.pieces}, brief.lift_kg))
    checks.append(model_true(assembly, obj_mesh))
    progress("proof", 1.0)
    return tuple(checks)


def weak_plaster(assembly: Assembly, brief: Brief) -> tuple[Check, ...]:
    """What of tongues, seam edges and keys is not as it should be, as checks that fail: for choosing between
    molds before all is proved.
    """
    pieces = {p.id: p.solid for p in assembly.pieces}
    judged = [tongue(pieces, assembly)]
    judged += [check for check in (seam_angle(assembly), side_seam_angle(assembly)) if check]
    judged += close_one_way(assembly, keys_asked=brief.keys)
    return tuple(check for check in judged if not check.ok)


def prove_files(
    files: Mapping[str, bytes], assembly: Assembly, proved: Sequence[Check] = ()
) -> tuple[Check, ...]:
    """The checks that can be repeated on what the files hold; their ids begin with "file_".

    `files` the bytes of each binary STL, by piece letter and "model"; the assembly gives the block, the
    order and the pulls. When a file is missing or damaged, only the files themselves are judged. `proved`
    are what `prove` found of this assembly: where every file holds the very triangles that were proved, what
    was found of them is found of the files.
    """
    checks: list[Check] = []
    solids: dict[str, LatticeSolid] = {}
    names = [*(p.id for p in assembly.pieces), "model"]
    meant = {**{p.id: p.solid for p in assembly.pieces}, "model": assembly.model}
    as_proved = bool(proved)
    for name in names:
        fault = ""
        off_mm = 0.0
        try:
            corners = read_corners(files[name])
            if as_proved and holds(corners, meant[name]):
                solids[name] = meant[name]
            else:
                as_proved = False
                solids[name], off_mm = snapped_solid(corners)
        except KeyError:
            fault = "it is missing"
        except ValueError as reason:
            fault = str(reason)
        checks.append(_whole(name, fault))
        if not fault:
            checks.append(on_lattice(name, off_mm))
    if len(solids) < len(names):
        return tuple(checks)
    if as_proved and (known := _of_files(proved, names)):
        return (*checks, *known)
    checks += solidity(solids, assembly, FILE_PREFIX)
    cut = len(assembly.pieces) > 2
    share = CUT_VOLUME_SHARE if cut else 0.0
    checks.append(volumes_fill_block(solids, assembly, FILE_PREFIX, share=share))
    checks += leaving(solids, assembly, FILE_PREFIX, lateral_mm=CUT_LATERAL_MM if cut else 0.0)
    return tuple(checks)


def _of_files(proved: Sequence[Check], names: Sequence[str]) -> list[Check]:
    """What was proved of solids that files hold triangle by triangle, said of the files; empty when some of
    it is not among `proved`.
    """
    wanted = [f"{kind}_{name}" for name in names for kind in ("solid_closed", "one_body")]
    wanted += ["volumes_fill_block", *(f"release_{name}" for name in names[:-1]), "model_leaves_last"]
    known = [check for check in proved if check.id in wanted]
    if len(known) < len(wanted):
        return []
    how = "the file holds the triangles that were proved, each to the last bit; "
    return [replace(check, id=f"{FILE_PREFIX}{check.id}", how=how + check.how) for check in known]


def _whole(name: str, fault: str) -> Check:
    label = "the model's file" if name == "model" else f"the file of piece {name}"
    return Check(
        id=f"{FILE_PREFIX}whole_{name}",
        ok=not fault,
        measured=1.0 if fault else 0.0,
        limit=0.0,
        unit="faults",
        sense="most",
        where=f"{label}: {fault}" if fault else label,
        how="the file read back, its length against its triangle count",
        remedy="Export the files again." if fault else "",
    )
