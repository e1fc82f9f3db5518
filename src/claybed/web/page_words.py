"""What stages say of options of the command line, said of the controls on the app's own pages."""

from __future__ import annotations

import re
from typing import Final

from claybed.web.photo_words import in_the_app

# What each option is called on the page that holds it, as its label begins there.
CONTROLS: Final = {
    "--unit": "Unit of the file",
    "--height": "Measured height, standing",
    "--mouth": "A hollow vessel",
    "--close-holes": "It has holes through its wall",
    "--mass": "Weight, if you have the real thing",
    "--body": "Which body of the file",
    "--up": "Which way is up",
    "--flat-seam": "Seam in one plane",
    "--keep-out": "No seam here",
    "--max-fill": "Most oil clay to accept",
    "--pieces": "Pieces",
    "--shape": "Block",
    "--use": "For",
    "--open": "For",
    "--wall": "Least plaster",
    "--ware-wall": "Wall of the ware",
    "--gate": "Gate",
    "--gate-bore": "Bore of the gate",
    "--no-keys": "Without keys",
    "--ratio": "Ratio, water to plaster",
    "--waste": "Allowance",
    "--form": "Form",
    "--bucket": "Largest bucket",
    "--plaster": "Plaster",
    "--clay": "Clay body",
    "--fired-height": "Height when fired",
    "--fired-capacity": "Capacity when fired",
    "--lift": "Heaviest piece, wet",
    "--k": "k",
}
# Sentences that would not read well by names alone; the first that fits is taken at each place.
_SAID: Final = (
    (r"by another --axis", "by turning the arrow another way"),
    (r"choose another --axis", "turn the arrow another way and tick “Use the way the arrow shows”"),
    (r"along --axis", "along the arrow"),
    (r"--axis", "the arrow’s way"),
    (r"\b([Aa])dd --mouth", r"\1sk for “A hollow vessel” under Facts about the object"),
    (r"with --open hump", "for “draping over a hump of its inside”"),
    (r"with --open block", "for “pressing or slumping into one open block”"),
    (r"\b([Aa])dd --close-holes", r"\1sk for “It has holes through its wall” under Facts about the object"),
    (r"[Ll]eave --close-holes out", "take the tick off “It has holes through its wall”"),
    (r"[Ll]eave --mouth out", "take the tick off “A hollow vessel”"),
    (r"with --shape round|--shape round", "“Block” as a band"),
    (r"with --shape boxed|--shape boxed", "“Block” of boards"),
    (r"leave the option out", "leave it empty"),
    (r"\bSay --", "Set --"),
    (r"say --", "set --"),
    (r", or look at the other ways with claybed survey", ", or choose another way on the object’s page"),
    (r": --gate auto", " as the program finds best"),
    (r"with --gate auto", "with “Gate” as found"),
    (r"[Mm]ake a test pour: claybed cast --test-wall \S+ --test-minutes \S+?\.", "Make a test pour."),
    (r": claybed mix --plan FOLDER\s*", " on the quick mix page"),
    (r"with claybed mix --(?:space|object)", "on the quick mix page"),
    (r": claybed plan --clay stoneware", ": fill in “Clay body” before planning"),
    (r"Name it: --body stoneware\.", "Fill in “Clay body”."),
    (r"[Pp]lan it again with --replace", "Plan it again"),
    (r"Give --wall 4mm or --minutes 15\.", "Give a wall or the minutes."),
)
_OPTION: Final = re.compile(r"--[a-z][a-z-]*[a-z]|--k\b")


def on_the_page(text: str) -> str:
    """A sentence with every option of the command line by the name of its control; an option that has none
    by its plain words.
    """
    if "--" not in text and "claybed " not in text:
        return text
    text = in_the_app(text)
    for pattern, words in _SAID:
        text = re.sub(pattern, words, text)
    return _OPTION.sub(lambda found: f"“{name_of(found[0])}”", text)


def name_of(option: str) -> str:
    """What an option is called on the page, or its own words."""
    return CONTROLS.get(option, option.removeprefix("--").replace("-", " "))
