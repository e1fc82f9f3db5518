"""What a plan and a survey share: the object as measured, which way it leaves, and what locks."""

from __future__ import annotations

from claybed.flow.ledger import Part
from claybed.materials import shelf
from claybed.records.brief import Brief
from claybed.records.finding import Finding
from claybed.records.measured import MeasuredObject
from claybed.records.measuring import VolumeBand
from claybed.records.pour import FloatReading
from claybed.records.surveyed import AxisScore, FillPlace, MoldOption, Survey

_GAPS = "all gaps between lines along the axis, summed over the depth raster"
_TO_PLANE = "distance by which lines that meet the object miss the plane of the seam, summed over the raster"


def write_object(part: Part, obj: MeasuredObject, brief: Brief, floating: FloatReading | None = None) -> None:
    """Write the object as measured (ml, cm², mm); `floating` only when its mass is known."""
    band = obj.band
    low, high = (None, None) if band.exact else bounds_ml(obj.solid_ml, band)
    part.say(name=obj.name)
    part.number(
        "volume_ml",
        obj.solid_ml,
        "ml",
        "signed tetrahedra over all faces / 1000",
        "geometry",
        low=low,
        high=high,
    )
    part.number(
        "volume_rel_95",
        obj.volume_rel_95,
        "-",
        "half-width of the 95 % interval of the volume, the wider side where it is uneven",
        "measured",
    )
    _write_measuring(part, obj)
    part.number("area_cm2", obj.area_cm2, "cm2", "sum of the faces' areas / 100", "geometry")
    part.number("extent_mm", obj.extent_mm, "mm", "largest less least x, y and z", "geometry")
    unit = part.part("unit")
    unit.say(unit=obj.unit.unit, how=obj.unit.how, says=obj.unit.says)
    asked = {"height_mm": brief.height_mm} if brief.height_mm is not None else {}
    unit.number(
        "mm_per_unit", obj.unit.mm_per_unit, "mm", f"one unit of the file, {obj.unit.how}", "measured", asked
    )
    part.say(repairs=[])
    for repair in obj.repairs:
        row = part.row("repairs")
        row.say(step=repair.step, unit=repair.unit, says=repair.says)
        row.number("count", repair.count, "-", "places mended", "measured")
        row.number("amount", repair.amount, repair.unit, "size of the mend", "measured")
    mend = part.part("mend")
    mend.number(
        "volume_change_percent",
        obj.mend.volume_change_percent,
        "percent",
        "100 x (volume after all mends - before) / before",
        "geometry",
    )
    mend.number(
        "largest_shift_mm",
        obj.mend.largest_shift_mm,
        "mm",
        "largest distance from the mended surface to the file's, mended holes left out",
        "geometry",
    )
    _write_mouth(part, obj)
    part.say(holes=[])
    for hole in obj.holes:
        row = part.row("holes")
        row.say(mark=hole.mark, where=hole.where, turned=hole.turned)
        row.number("at_mm", hole.at_mm, "mm", "middle of its rim outside, object's frame", "geometry")
        row.number("out", hole.out, "-", "unit vector out of it, object's frame", "geometry")
        row.number("width_mm", hole.width_mm, "mm", "least width of its narrowest end", "geometry")
        row.number("length_mm", hole.length_mm, "mm", "largest width of its narrowest end", "geometry")
        row.number("depth_mm", hole.depth_mm, "mm", "from rim to rim", "geometry")
        row.number(
            "volume_ml", hole.volume_ml, "ml", "between its wall and both surfaces over it", "geometry"
        )
    part.number("mass_g", obj.mass_g, "g", "weighed", "asked")
    if floating is not None:
        _write_floating(part, obj, brief, floating)


def bounds_ml(volume_ml: float, band: VolumeBand) -> tuple[float, float]:
    """The ends of a volume's 95 % interval, ml."""
    return volume_ml * (1.0 - band.smaller_share), volume_ml * (1.0 + band.larger_share)


def write_band(part: Part, band: VolumeBand) -> None:
    """Write both sides of a volume's 95 % interval, as shares of it."""
    part.number("smaller_share", band.smaller_share, "-", "share it may be smaller by, 95 %", "measured")
    part.number("larger_share", band.larger_share, "-", "share it may be larger by, 95 %", "measured")


def _write_measuring(part: Part, obj: MeasuredObject) -> None:
    how = obj.measuring
    if how is None:
        part.say(measured=None)
        return
    measured = part.part("measured")
    measured.say(kind=how.kind, says=how.says, cannot_tell=list(how.cannot_tell))
    write_band(measured.part("band"), obj.band)


def _write_mouth(part: Part, obj: MeasuredObject) -> None:
    if obj.mouth is None:
        part.say(mouth=None)
        return
    mouth = part.part("mouth")
    mouth.say(inside_opens=obj.mouth.inside_opens)
    mouth.number("up", obj.mouth.up, "-", "unit vector out of the mouth", "geometry")
    mouth.number("brim_mm", obj.mouth.brim_mm, "mm", "height along up where it overflows", "geometry")
    mouth.number("overflow_ml", obj.mouth.overflow_ml, "ml", "inside below the brim", "geometry")
    mouth.number(
        "closed_ml", obj.mouth.closed_ml, "ml", "inside closed off by the mouth's surface", "geometry"
    )


def _write_floating(part: Part, obj: MeasuredObject, brief: Brief, floating: FloatReading) -> None:
    given = {"mass_g": obj.mass_g, "volume_ml": obj.solid_ml, "consistency_per_100": brief.consistency}
    lift = "density of the slurry x volume - mass"
    part.say(floats_in_water=floating.floats_in_water, floats_in_slurry=floating.floats_in_slurry)
    part.number(
        "relative_density",
        floating.relative_density,
        "-",
        "mass / volume / density of water",
        "archimedes",
        given,
    )
    part.number("lift_in_slurry_g", floating.lift_in_slurry_g, "g", lift, "archimedes", given)
    part.number(
        "on_top_g",
        floating.on_top_g,
        "g",
        "lift in slurry x the usual margin",
        "practice",
        {
            "lift_in_slurry_g": floating.lift_in_slurry_g,
            "margin": shelf.value("practice", "hold_down_margin_ratio").value,
        },
    )


def write_survey(part: Part, found: Survey, option: MoldOption) -> None:
    """Write the way the object leaves along `option`, which `found` describes, and the other axes judged."""
    chosen = found.chosen
    part.number("axis", option.pull, "-", "unit pull in the object's frame", "geometry")
    part.say(kind=option.kind, exact_gap=found.exact_gap, why=chosen.why)
    planed = option.plane_mm is not None
    _write_score(part, chosen, found.spacing_mm, f"{_GAPS}, and {_TO_PLANE}" if planed else _GAPS)
    part.number("spacing_mm", found.spacing_mm, "mm", "raster spacing of the full mesh's score", "geometry")
    part.say(draft=[], options=[], fill_places=[], candidates=[])
    for band in found.draft:
        row = part.row("draft")
        row.number("from_deg", band.from_deg, "deg", "least draft of the band", "geometry")
        row.number("to_deg", band.to_deg, "deg", "largest draft of the band", "geometry")
        row.number("area_cm2", band.area_cm2, "cm2", "faces whose draft lies in the band", "geometry")
    for way in found.options:
        row = part.row("options")
        row.say(kind=way.kind, says=way.says)
        row.number("pull", way.pull, "-", "unit vector in the object's frame", "geometry")
        row.number("fill_ml", way.fill_ml, "ml", _GAPS, "geometry")
        if way.plane_mm is not None:
            row.number("plane_mm", way.plane_mm, "mm", "height with least fill along the pull", "geometry")
            row.number("plane_fill_ml", way.plane_fill_ml, "ml", _TO_PLANE, "geometry")
        row.number("deepest_mm", way.deepest_mm, "mm", "deepest gap, measured sideways", "geometry")
        if way.base_mm is not None:
            row.number("base_mm", way.base_mm, "mm", "height of the flat face along the pull", "geometry")
        if way.crown_mm is not None and way.leans is not None:
            row.number("crown_mm", way.crown_mm, "mm", "height of the flat face along the pull", "geometry")
            row.number("leans", way.leans, "-", "way of the last piece, object's frame", "geometry")
            row.number("draft_deg", way.draft_deg, "deg", "asked of every wall", "asked")
        if way.sides:
            _write_pulls(row, "sides", way.sides)
    write_trades(part, found)
    for place in to_act_on(found):
        row = part.row("fill_places")
        row.say(lock_class=place.lock_class)
        row.number("volume_ml", place.volume_ml, "ml", "gaps of this patch", "geometry")
        row.number(
            "depth_mm", place.depth_mm, "mm", "how far it reaches sideways under the object", "geometry"
        )
        row.number("at_mm", place.at_mm, "mm", "middle of the patch in the object's frame", "geometry")
    for score in found.candidates:
        row = part.row("candidates")
        row.number("axis", score.axis, "-", f"unit vector in the object's frame, {score.why}", "geometry")
        row.say(why=score.why)
        _write_score(row, score, found.spacing_mm)


def write_trades(part: Part, found: Survey) -> None:
    """Write what each number of pieces leaves to fill, and the spots that no two pulls share."""
    how = {
        "measured": _GAPS,
        "cut": "what the model of the mold as it was cut holds beyond the object",
    }
    for trade in found.front:
        row = part.row("front")
        mains = "two main pieces" if trade.base_mm is None else "one main piece on a flat face"
        row.number("pieces", trade.pieces, "-", f"{mains} and one for each side pull", "geometry")
        if trade.base_mm is not None:
            row.number("base_mm", trade.base_mm, "mm", "height of the flat face along the pull", "geometry")
        reckoned = "locked space that no pull of the set frees, by samples"
        row.number("fill_ml", trade.fill_ml, "ml", how.get(trade.told, reckoned), "geometry")
        row.say(told=trade.told)
        row.number("pull", trade.pull, "-", "unit main pull in the object's frame", "geometry")
        _write_pulls(row, "sides", trade.sides)
    seen = found.witness
    if seen is not None:
        spots = part.part("witness")
        apart = "points off the surface; for each two, every bundle of directions is blocked at one of them"
        for spot, pull in zip(seen.spots_mm, seen.pulls, strict=True):
            row = spots.row("spots")
            row.number("at_mm", spot, "mm", apart, "geometry")
            row.number("pull", pull, "-", "a way for this spot to leave", "geometry")
        spots.number(
            "sampled_deg", seen.sampled_deg, "deg", "rays by which the spots were sought", "geometry"
        )
        nearer = "rays nearer than this counted as one when the spots were sought"
        spots.number("widened_deg", seen.widened_deg, "deg", nearer, "geometry")
        told = "bundles of directions looked at to prove every pair of spots"
        spots.number("bundles", seen.bundles, "-", told, "geometry")
        half = "narrowest bundle, from its middle to its corner"
        spots.number("finest_deg", seen.finest_deg, "deg", half, "geometry")
    if found.free_pulls:
        _write_pulls(part, "free_pulls", found.free_pulls)
    more = found.drafted
    if more is not None:
        drafted = part.part("drafted")
        turned = "how far off a piece may be turned as it leaves, as asked"
        drafted.number("draft_deg", more.draft_deg, "deg", turned, "asked")
        if more.wall_mm is not None:
            none = "point off a wall that no pull left to the spots beside it gives that draft"
            drafted.number("wall_mm", more.wall_mm, "mm", none, "geometry")
        drafted.say(companions=[])
        for spot in more.companions_mm:
            alone = "point off the surface that leaves along the pull of one spot of the witness only"
            drafted.row("companions").number("at_mm", spot, "mm", alone, "geometry")
        _write_pulls(drafted, "pulls", more.pulls)


def _write_pulls(row: Part, key: str, pulls: tuple[tuple[float, float, float], ...]) -> None:
    row.say(**{key: []})
    for pull in pulls:
        row.row(key).number("pull", pull, "-", "unit vector in the object's frame", "geometry")


def _write_score(part: Part, score: AxisScore, spacing_mm: float, fill: str = _GAPS) -> None:
    clay = shelf.value("clay", "oil_clay_density_g_per_ml")
    part.say(castable=score.castable)
    part.number("fill_ml", score.fill_ml, "ml", fill, "geometry", {"spacing_mm": spacing_mm})
    part.number(
        "fill_g",
        score.fill_g,
        "g",
        "fill_ml x density of oil clay",
        clay.source,
        {"fill_ml": score.fill_ml, "oil_clay_density_g_per_ml": clay.value},
        low=score.fill_ml * clay.low,
        high=score.fill_ml * clay.high,
    )
    part.number(
        "undercut_area_cm2",
        score.undercut_area_cm2,
        "cm2",
        "faces that neither direction of the axis reaches",
        "geometry",
    )
    part.number("deepest_mm", score.deepest_mm, "mm", "deepest gap, measured sideways", "geometry")
    part.number(
        "tilt_deg",
        score.tilt_deg,
        "deg",
        "least tilt off the axis that locks as deep as may be scraped; the largest one tried means more",
        "geometry",
        {"lock_scrape_mm": shelf.value("practice", "lock_scrape_mm").value},
    )


def to_act_on(found: Survey) -> tuple[FillPlace, ...]:
    """The patches that ask something of a person: to be filled, then to be scraped, largest first."""
    asks = [place for place in found.places if place.lock_class != "ignore"]
    return tuple(sorted(asks, key=lambda place: (place.lock_class != "fill", -place.volume_ml)))


def write_findings(part: Part, findings: tuple[Finding, ...]) -> None:
    """Write findings in the order given, each amount with the sentence it stands in as its working."""
    part.say(findings=[])
    for finding in findings:
        row = part.row("findings")
        row.say(
            id=finding.id,
            severity=finding.severity,
            where=finding.where,
            says=finding.says,
            remedy=finding.remedy,
        )
        if finding.amount is None:
            row.say(amount=None)
        else:
            amount = row.part("amount")
            amount.say(unit=finding.amount.unit)
            amount.number("value", finding.amount.value, finding.amount.unit, finding.says, "measured")
        row.number("at_mm", finding.at_mm, "mm", "place of the finding", "geometry")
