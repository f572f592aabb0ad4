"""Make the quay strider, an animal that never lived: mesh files, element table, and what is known of it.

    python demo_blend/make_strider.py --out FOLDER [--seed N] [--detail SHARE] [--faults] [--mounted]

FOLDER/scans holds one STL an element (millimetres, standing at its place), FOLDER/elements.csv the element table,
FOLDER/expected.json the true joints and facets, in metres. With --faults, FOLDER/faulty holds the same animal once more
with faults of every kind planted in it, drawn from the seed; its expected.json says which and where. With --mounted
three of its bones stand where a mount had them, wrongly; expected.json says which, and how they belong.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path

from strider.animal import make_elements, tell_truth
from strider.faults import plant_faults
from strider.mount import mount_wrongly
from strider.scans import make_scan, write_scans

FAULTY = "faulty"


def main() -> None:
    options = read_options()
    begun = time.monotonic()
    rows = write_strider(options.out, options.seed, options.detail, options.faults, options.mounted)
    print(f"{len(rows)} elements in {options.out} after {time.monotonic() - begun:.0f} s")


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="folder to fill")
    parser.add_argument("--seed", type=int, default=1, help="another number makes another animal's unevenness")
    parser.add_argument("--detail", type=float, default=1.0, help="1: 5 000 to 20 000 triangles an element")
    parser.add_argument("--faults", action="store_true", help="write a faulty set beside it as well")
    parser.add_argument("--mounted", action="store_true", help="three bones as they were mounted, wrongly")
    return parser.parse_args()


def write_strider(
    out: Path, seed: int, detail: float, faults: bool = False, mounted: bool = False
) -> list[dict[str, str]]:
    """Write the animal; returns the rows of its element table."""
    elements = list(make_elements(seed, detail))
    scans = [make_scan(element, "sculpted") for element in elements]
    truth: dict[str, object] = {"seed": seed, "elements": len(scans), **tell_truth()}
    if mounted:
        scans, wrong = mount_wrongly(scans)
        truth["mounted_wrongly"] = [{**vars(bone), "X_WE": bone.X_WE.tolist()} for bone in wrong]
    write_scans(out, scans)
    (out / "expected.json").write_text(json.dumps(truth, indent=1), encoding="utf-8")
    if faults:
        planted = plant_faults([make_scan(element, "scanned") for element in elements], seed)
        write_scans(out / FAULTY, planted.scans)
        told = {"seed": seed, "files": len(planted.scans), "faults": [vars(fault) for fault in planted.faults]}
        (out / FAULTY / "expected.json").write_text(json.dumps(told, indent=1), encoding="utf-8")
    return [scan.row for scan in scans if scan.row is not None]


if __name__ == "__main__":
    main()
