"""Make the demo that comes with the add-on: the quay strider in small scans, with its skeleton document.

    python demo_blend/make_opened.py --blender PYTHON --zip ZIP [--out addon/demo]

A quarter of an hour, so that its outcome lies in the repository and the extension's build only copies it. It goes the
way of run_strider.py: scans are written, the installed add-on builds the skeleton from them, what a user would set by
hand is set by its operators, and the document is saved (opened_in_blender.py). Do it again after a change to the
animal, its poses or its quay; tests/unit/test_opened_demo.py says when that was forgotten.
"""

from __future__ import annotations

import argparse
import json
import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from blender_run import run_in_blender
from strider.animal import Element, make_elements, tell_truth
from strider.scans import Scan, make_scan, write_scans

DOCUMENT = "quay_strider.json"
SEED, DETAIL = 1, 0.5
"""Some 600 to 7000 triangles an element, a quarter of what the large demo has."""

STEPS_A_MM = 16
"""Co-ordinates are whole sixteenths of a millimetre, which packs small."""

_OWNER = Path(__file__).resolve().parents[1] / "addon" / "demo"


def main() -> None:
    options = read_options()
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder)
        write_scans(made, (make_small_scan(element) for element in make_elements(SEED, DETAIL)))
        (made / "expected.json").write_text(json.dumps(tell_truth()), encoding="utf-8")
        run_in_blender(options.blender, made, "opened_in_blender.py", options.zip.resolve(), made / DOCUMENT)
        shutil.rmtree(options.out, ignore_errors=True)
        shutil.copytree(made / "scans", options.out / "scans")
        shutil.copy(made / DOCUMENT, options.out / DOCUMENT)
    size = sum(path.stat().st_size for path in options.out.rglob("*") if path.is_file())
    print(f"{options.out}: {size / 1e6:.1f} MB")


def read_options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, default=_OWNER, help="folder to fill; what it held is removed")
    parser.add_argument("--blender", type=Path, required=True, help="a Python that holds bpy")
    parser.add_argument("--zip", type=Path, required=True, help="the built extension")
    return parser.parse_args()


def make_small_scan(element: Element) -> Scan:
    """The scan of one element as a PLY file that packs small."""
    scan = make_scan(element, "sculpted")
    file = scan.file.replace(".stl", ".ply")
    vertices = np.round(scan.vertices * STEPS_A_MM) / STEPS_A_MM
    data = encode_ply(vertices, scan.faces)
    return replace(scan, file=file, vertices=vertices, row={**scan.row, "file": file}, bytes_of_file=data)


def encode_ply(vertices: np.ndarray, faces: np.ndarray) -> bytes:
    """Binary PLY, its indices in two bytes where they fit.

    vertices : (n, 3), n below 65536; faces : (m, 3)

    Raises
    ------
    ValueError : too many vertices
    """
    if len(vertices) > 65535:
        raise ValueError(f"{len(vertices)} vertices do not fit two bytes")
    head = [
        "ply",
        "format binary_little_endian 1.0",
        f"element vertex {len(vertices)}",
        *(f"property float {axis}" for axis in "xyz"),
        f"element face {len(faces)}",
        "property list uchar ushort vertex_indices",
        "end_header\n",
    ]
    rows = np.empty(len(faces), [("count", "u1"), ("corners", "<u2", 3)])
    rows["count"], rows["corners"] = 3, faces
    return "\n".join(head).encode() + vertices.astype("<f4").tobytes() + rows.tobytes()


if __name__ == "__main__":
    main()
