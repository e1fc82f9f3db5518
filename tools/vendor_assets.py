"""Fetch and prepare the files of other people that claybed ships: the typeface, the 3D library and htmx.

Run by hand when a version is raised, with npm on the path and `fonttools` and `brotli` installed:

    python tools/vendor_assets.py src/claybed/assets

Nothing of this runs when claybed is installed or used. What was fetched, under which licence and with which
hash, is written to VENDOR.json, and a test hashes the files again.
"""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

THREE = "0.187.0"
HTMX = "2.0.11"
ESBUILD = "0.28.2"
FONT = "5.3.0"
FONT_PACKAGE = "@fontsource/atkinson-hyperlegible-next"
WEIGHTS = {"400": "Regular", "600": "SemiBold", "700": "Bold"}

# Only these names reach the view; the bundler drops what none of them needs.
THREE_NAMES = (
    "AmbientLight, BufferAttribute, BufferGeometry, Box3, Color, DirectionalLight, DoubleSide, "
    "FrontSide, BackSide, "
    "Group, LineBasicMaterial, LineSegments, Mesh, MeshBasicMaterial, MeshLambertMaterial, "
    "OrthographicCamera, "
    "Plane, Raycaster, Scene, Sphere, SRGBColorSpace, Vector3, WebGLRenderer, HemisphereLight, "
    "CanvasTexture, "
    "Sprite, SpriteMaterial"
)


def main(assets: Path) -> None:
    """Fill `assets` with fonts/, three/ and VENDOR.json; overwrites what is there."""
    with tempfile.TemporaryDirectory() as made:
        work = Path(made)
        entries = [
            vendor_font(work / "font", assets / "fonts"),
            vendor_three(work / "three", assets / "three"),
            vendor_htmx(work / "htmx", assets / "htmx"),
        ]
    for entry in entries:
        folder = assets / str(entry["folder"])
        entry["sha256"] = {
            p.name: hashlib.sha256(p.read_bytes()).hexdigest()
            for p in sorted(folder.iterdir())
            if p.is_file()
        }
    (assets / "VENDOR.json").write_text(json.dumps({"vendored": entries}, indent=2) + "\n", encoding="utf-8")


def fetch(package: str, version: str, into: Path) -> tuple[Path, str]:
    """Unpack an npm package; returns its folder and the registry's integrity string."""
    into.mkdir(parents=True)
    told = subprocess.run(
        ["npm", "pack", "--json", f"{package}@{version}"],
        cwd=into,
        check=True,
        capture_output=True,
        text=True,
    )
    answer = json.loads(told.stdout)
    answer = answer[0] if isinstance(answer, list) else next(iter(answer.values()))
    with tarfile.open(into / Path(answer["filename"]).name) as packed:
        packed.extractall(into, filter="data")
    return into / "package", str(answer["integrity"])


def vendor_font(work: Path, out: Path) -> dict[str, object]:
    """The reading typeface: TTF with Latin and extended Latin for paper, small WOFF2 for the page."""
    from fontTools.merge import Merger
    from fontTools.ttLib import TTFont

    out.mkdir(parents=True, exist_ok=True)
    package, integrity = fetch(FONT_PACKAGE, FONT, work)
    for weight, style in WEIGHTS.items():
        parts = []
        for subset in ("latin", "latin-ext"):
            source = package / "files" / f"atkinson-hyperlegible-next-{subset}-{weight}-normal.woff2"
            font = TTFont(source, recalcTimestamp=False)
            font.flavor = None
            for table in ("prep", "gasp", "STAT"):
                if table in font:
                    del font[table]
            plain = work / f"{subset}-{weight}.ttf"
            font.save(plain)
            parts.append(str(plain))
            if subset == "latin" and weight != "600":
                (out / f"AtkinsonHyperlegibleNext-{style}.woff2").write_bytes(source.read_bytes())
        merged = Merger().merge(parts)
        # The date of the original, so that the same version always gives the same bytes.
        merged.recalcTimestamp = False
        merged["head"].created = merged["head"].modified = TTFont(parts[0])["head"].modified
        merged.save(out / f"AtkinsonHyperlegibleNext-{style}.ttf")
    (out / "OFL.txt").write_bytes((package / "LICENSE").read_bytes())
    return {
        "name": "Atkinson Hyperlegible Next",
        "folder": "fonts",
        "from": f"npm {FONT_PACKAGE}",
        "version": FONT,
        "integrity": integrity,
        "licence": "OFL-1.1",
        "licence_file": "OFL.txt",
        "changed": "Latin and extended Latin subsets merged into one TTF per weight; hinting tables "
        "left out.",
    }


def vendor_three(work: Path, out: Path) -> dict[str, object]:
    """The 3D library and its orbit control as one plain script that sets the name THREE."""
    out.mkdir(parents=True, exist_ok=True)
    package, integrity = fetch("three", THREE, work)
    subprocess.run(
        ["npm", "install", "--no-audit", "--no-fund", "--prefix", str(work), f"esbuild@{ESBUILD}"], check=True
    )
    entry = work / "entry.mjs"
    entry.write_text(
        f"export {{ {THREE_NAMES} }} from './package/build/three.module.js';\n"
        "export { OrbitControls } from './package/examples/jsm/controls/OrbitControls.js';\n",
        encoding="utf-8",
    )
    bundle = work / "bundle.js"
    subprocess.run(
        [
            str(work / "node_modules" / ".bin" / "esbuild"),
            str(entry),
            "--bundle",
            "--minify",
            "--format=iife",
            "--global-name=THREE",
            "--legal-comments=none",
            "--target=es2020",
            f"--alias:three={package / 'build' / 'three.module.js'}",
            f"--outfile={bundle}",
        ],
        check=True,
    )
    # Shader comments cite web pages; the view is to hold no address at all but the two that name XML spaces.
    text = re.sub(r"//[^\n`]*https?://[^\n`]*", "", bundle.read_text(encoding="utf-8"))
    (out / "three.bundle.min.js").write_text(text.replace("</script", "<\\/script"), encoding="utf-8")
    (out / "LICENSE").write_bytes((package / "LICENSE").read_bytes())
    return {
        "name": "three.js",
        "folder": "three",
        "from": "npm three",
        "version": THREE,
        "integrity": integrity,
        "licence": "MIT",
        "licence_file": "LICENSE",
        "changed": f"Only the parts used, bundled and minified with esbuild {ESBUILD}; web addresses "
        "in comments left out.",
    }


def vendor_htmx(work: Path, out: Path) -> dict[str, object]:
    """The page behaviour library, as it is published."""
    out.mkdir(parents=True, exist_ok=True)
    package, integrity = fetch("htmx.org", HTMX, work)
    (out / "htmx.min.js").write_bytes((package / "dist" / "htmx.min.js").read_bytes())
    (out / "LICENSE").write_bytes((package / "LICENSE").read_bytes())
    return {
        "name": "htmx",
        "folder": "htmx",
        "from": "npm htmx.org",
        "version": HTMX,
        "integrity": integrity,
        "licence": "0BSD",
        "licence_file": "LICENSE",
        "changed": "nothing",
    }


if __name__ == "__main__":
    main(Path(sys.argv[1]))
