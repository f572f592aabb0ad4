"""Bring the bones of a human arm and hip from the package index: meshes and the places of their joints, in metres.

The package is myo-sim 0.2.4 (Apache-2.0, which is looked for in it). It is unpacked, never installed or imported; the
bones stay out of the repository.

    python tests/fetch_human.py FOLDER
"""

from __future__ import annotations

import sys
import tempfile
import zipfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "demo_blend"))
from package_index import download_wheel

PACKAGE = "myo-sim==0.2.4"
SHA256 = "d7a121c5a8623ba6663b6645e8f9e78300b2b1f214f485f6f65e0020fab51a97"
INSIDE = "myo_sim/models/"
WANTED = ("meshes/", "arm/assets/myoarm_r_chain.xml", "leg/assets/myolegs_chain.xml")
LICENCE = "Apache License"


def unpack(wheel: Path, target: Path) -> int:
    """Copy meshes and joints into the folder; returns how many files."""
    target.mkdir(parents=True, exist_ok=True)
    count = 0
    with zipfile.ZipFile(wheel) as archive:
        licence = next(name for name in archive.namelist() if name.endswith("licenses/LICENSE"))
        if LICENCE not in archive.read(licence).decode("utf-8"):
            sys.exit(f"{PACKAGE}: its licence is not the {LICENCE} that was expected")
        for name in archive.namelist():
            if name.startswith(INSIDE) and name[len(INSIDE) :].startswith(WANTED) and not name.endswith("/"):
                (target / Path(name).name).write_bytes(archive.read(name))
                count += 1
    return count


def main() -> None:
    target = Path(sys.argv[1])
    with tempfile.TemporaryDirectory() as folder:
        count = unpack(download_wheel(PACKAGE, SHA256, Path(folder)), target)
    print(f"{count} files in {target}")


if __name__ == "__main__":
    main()
