"""Make the quay strider, an animal that never lived: mesh files, element table, and what is known of it.

    python demo_blend/make_strider.py --out FOLDER [--seed N] [--detail SHARE]

FOLDER/scans holds one STL an element (millimetres, standing at its place), FOLDER/elements.csv the element table,
FOLDER/expected.json the true joints and facets, in metres.
"""

from __future__ import annotations

import argparse
import csv
import json
import time
from pathlib import Path

import trimesh
from strider.animal import Element, make_elements, tell_truth

COLUMNS = ("file", "body", "unit", "element", "series", "position", "side", "parent", "attachment", "reason", "origin")


def main() -> None:
    options = read_options()
    begun = time.monotonic()
    rows = write_strider(options.out, options.seed, options.detail)
    print(f"{len(rows)} elements in {options.out} after {time.monotonic() - begun:.0f} s")


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder to fill")
    parser.add_argument("--seed", type=int, default=1, help="another number makes another animal's unevenness")
    parser.add_argument("--detail", type=float, default=1.0, help="1: 5 000 to 20 000 triangles an element")
    return parser.parse_args()


def write_strider(out: Path, seed: int, detail: float) -> list[dict[str, object]]:
    """Write the animal; returns the rows of its element table."""
    (out / "scans").mkdir(parents=True, exist_ok=True)
    rows = []
    for element in make_elements(seed, detail):
        file = f"{element.name.replace(' ', '_')}.stl"
        mesh = trimesh.Trimesh(element.vertices * 1000, element.faces, process=False)
        (out / "scans" / file).write_bytes(mesh.export(file_type="stl"))
        rows.append(_describe(element, file))
    with (out / "elements.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, COLUMNS)
        writer.writeheader()
        writer.writerows(rows)
    truth = {"seed": seed, "elements": len(rows), **tell_truth()}
    (out / "expected.json").write_text(json.dumps(truth, indent=1), encoding="utf-8")
    return rows


def _describe(element: Element, file: str) -> dict[str, object]:
    return {
        "file": file,
        "body": "",
        "unit": "mm",
        "element": element.name,
        "series": element.series,
        "position": "" if element.position is None else element.position,
        "side": element.side,
        "parent": element.parent,
        "attachment": element.attachment,
        "reason": element.reason,
        "origin": "sculpted",
    }


if __name__ == "__main__":
    main()
