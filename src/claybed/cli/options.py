"""The options that several commands share, one for each field of the Brief, with their help."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

_OBJECT = "The object"
_LEAVING = "How it leaves"
_MOLD = "The mold"
_POURS = "The pours"
_BENCH = "At the bench"
_WARE = "The ware"
_OUTPUT = "What comes out"

File = Annotated[
    Path,
    typer.Argument(help="The model: STL, OBJ, PLY, GLB, 3MF, STEP or an object file.", show_default=False),
]


def option(name: str, metavar: str | None, text: str, panel: str | None = None) -> typer.models.OptionInfo:
    """Return an option without a shown default: what follows it, its help, and where it stands in it."""
    info: typer.models.OptionInfo = typer.Option(
        name, metavar=metavar, help=text, rich_help_panel=panel, show_default=False
    )
    return info


Unit = Annotated[
    str | None,
    option(
        "--unit", "mm|cm|m|in|ft", "Length unit of the file; told by the file or its size otherwise.", _OBJECT
    ),
]
Height = Annotated[
    str | None,
    option("--height", "LENGTH", "Scale to this measured height along --up: 180mm or 7 1/2 in.", _OBJECT),
]
Mouth = Annotated[
    bool | None, option("--mouth", "", "A hollow vessel: close its mouth, mold its outside.", _OBJECT)
]
CloseHoles = Annotated[
    bool | None,
    option(
        "--close-holes",
        "",
        "The same with drain, cord or side holes: close them, tell where to cut.",
        _OBJECT,
    ),
]
Mass = Annotated[
    str | None, option("--mass", "MASS", "What the object weighs: tells whether it floats.", _OBJECT)
]
Body = Annotated[
    int | None, option("--body", "N", "Which body, when the file holds several side by side.", _OBJECT)
]
BodyOrClay = Annotated[
    list[str] | None,
    option(
        "--body",
        "N|NAME",
        "A number: which body of a file with several. A name: the clay body, as --clay.",
        _OBJECT,
    ),
]
Up = Annotated[
    str | None, option("--up", "AXIS", "Which way is up when it stands: z (default), y, -x …", _OBJECT)
]
MaxTriangles = Annotated[
    int | None, option("--max-triangles", "N", "Refuse larger files (default 5000000).", _OBJECT)
]
Axis = Annotated[
    str | None, option("--axis", "AXIS", "Fix the pull: x, y, z, -z or 0.2,0,1. Found otherwise.", _LEAVING)
]
FlatSeam = Annotated[
    bool | None, option("--flat-seam", "", "Lay the seam in one plane, filled up to --max-fill.", _LEAVING)
]
KeepOutRegions = Annotated[
    list[str] | None,
    option(
        "--keep-out",
        "REGION",
        "No seam here: z>=20mm, 10mm<=x<=3cm, within 8mm of (10,-5,62). Repeatable.",
        _LEAVING,
    ),
]
MaxFill = Annotated[
    str | None,
    option(
        "--max-fill",
        "VOLUME",
        "Most oil clay to accept (default the larger of 1 ml and 0.5 %, in gaps up to 5 mm deep).",
        _LEAVING,
    ),
]
PoseTolerance = Annotated[
    float | None,
    option("--pose-tolerance", "DEG", "How far off the model may be set up (default 2).", _LEAVING),
]
Pieces = Annotated[
    int | None, option("--pieces", "1 to 6", "How many pieces; as few as will do otherwise.", _MOLD)
]
Shape = Annotated[
    str | None, option("--shape", "auto|boxed|round", "Outside of the block: boards or a round band.", _MOLD)
]
Use = Annotated[str | None, option("--use", "slip|press", "Slip casting (default) or pressing clay.", _MOLD)]
Open = Annotated[
    str | None,
    option(
        "--open",
        "block|hump",
        "One open piece for pressing: a block clay goes into, or a hump that fills a vessel, to drape over.",
        _MOLD,
    ),
]
Wall = Annotated[
    str | None, option("--wall", "LENGTH", "Least plaster around the cavity; by size otherwise.", _MOLD)
]
WareWall = Annotated[
    str | None, option("--ware-wall", "LENGTH", "Wall of the ware to be cast (default 4mm).", _MOLD)
]
Gate = Annotated[
    str | None,
    option(
        "--gate", "auto|none|AXIS", "Where slip goes in: placed, none, or out along x, -z, 0.2,0,1.", _MOLD
    ),
]
GateBore = Annotated[
    str | None, option("--gate-bore", "LENGTH", "Width of the gate; by the ware's wall otherwise.", _MOLD)
]
NoKeys = Annotated[bool | None, option("--no-keys", "", "Leave the keys out.", _MOLD)]
Ratio = Annotated[
    str | None,
    option("--ratio", "RATIO", "Water : plaster by mass, 1:1.3 (default), or 77 per 100.", _POURS),
]
Waste = Annotated[
    str | None, option("--waste", "SHARE", "Allowance: 10% or 0.1; by the form otherwise.", _POURS)
]
Form = Annotated[
    str | None, option("--form", "hand|boards|case", "What holds the pour (default hand-built).", _POURS)
]
Bucket = Annotated[str | None, option("--bucket", "VOLUME", "Largest batch of slurry (default 8L).", _POURS)]
Plaster = Annotated[
    str | None, option("--plaster", "NAME", "Kind of plaster (default pottery_plaster).", _POURS)
]
Lift = Annotated[
    str | None,
    option(
        "--lift", "MASS", "Most one piece may weigh wet (default 21kg, two people; one lifts 16kg).", _POURS
    ),
]

Studio = Annotated[
    Path | None,
    option("--studio", "FILE", "The studio's file; CLAYBED_STUDIO or your own else, if any.", _BENCH),
]
Water = Annotated[str | None, option("--water", "TEMP", "Temperature of the mixing water: 18C.", _BENCH)]
Mixing = Annotated[
    str | None, option("--mixing", "drill|hand", "How plaster is mixed (default drill).", _BENCH)
]
Drills = Annotated[
    int | None, option("--drills", "N", "How many people can mix at once (default 1).", _BENCH)
]
Release = Annotated[
    str | None,
    option("--release", "soap|oil|wax", "What parts plaster from plaster (default soap).", _BENCH),
]
Porous = Annotated[
    bool | None, option("--porous", "", "The object drinks (wood, bisque, gourd): it is sealed.", _BENCH)
]
Hollow = Annotated[
    str | None, option("--hollow", "VOLUME", "Room inside the object for ballast: 1.2L.", _BENCH)
]
MadeOf = Annotated[
    str | None,
    option("--made-of", "pla|oil-clay|wax|ceramic|wood", "What the object is: does heat soften it?", _BENCH),
]
SecondPour = Annotated[
    str | None,
    option(
        "--second-pour", "same-day|wrapped|soaked", "When the second is poured (default same-day).", _BENCH
    ),
]
Lifter = Annotated[
    str | None, option("--lifter", "school|staff", "Who lifts: beginners, or people used to it.", _BENCH)
]

Clay = Annotated[
    str | None,
    option("--clay", "NAME", "Clay body: stoneware, porcelain_slip, or one of the studio's file.", _WARE),
]
FiredHeight = Annotated[
    str | None,
    option("--fired-height", "LENGTH", "Height wanted of the fired piece; scales the model.", _WARE),
]
FiredCapacity = Annotated[
    str | None,
    option("--fired-capacity", "VOLUME", "What the fired piece is to hold; scales the model.", _WARE),
]
Expansion = Annotated[
    str | None, option("--expansion", "SHARE", "What plaster grows in setting: 0.2% (default none).", _WARE)
]
Generations = Annotated[
    int | None,
    option("--generations", "N", "Castings from model to mold; block and case make three.", _WARE),
]
SlipName = Annotated[str | None, option("--slip", "NAME", "A slip of the studio's file.", _WARE)]

Out = Annotated[
    Path | None,
    option("--out", "DIR", "Folder for the plan (default NAME.claybed in this folder).", _OUTPUT),
]
Replace = Annotated[bool, option("--replace", "", "Make an earlier plan in that folder anew.", _OUTPUT)]
AsJson = Annotated[bool, option("--json", "", "Print the document as JSON, figures unrounded.", _OUTPUT)]
Units = Annotated[
    str, option("--units", "metric|us", "Units of what is printed. What you type names its own.", _OUTPUT)
]
UnitsOrKept = Annotated[
    str | None,
    option("--units", "metric|us", "Units of what is printed (default metric, or the studio's).", _OUTPUT),
]
