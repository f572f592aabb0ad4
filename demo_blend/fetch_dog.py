"""Bring the bones of a dog from the package index: a symmetric anatomical model of 172 STL files, in metres, assembled.

The package is dm-control 1.0.50 (Apache-2.0). It is unpacked, never installed or imported; the bones stay out of the
repository.

    python demo_blend/fetch_dog.py FOLDER
"""

from __future__ import annotations

import sys
import tempfile
import zipfile
from pathlib import Path

from package_index import download_wheel

PACKAGE = "dm-control==1.0.50"
SHA256 = "5434e1e51ff69016867426da7df6064b18d140e4d0a628f879bbcf0e7d0a586d"
INSIDE = "dm_control/suite/dog_assets/BONE"
BONES = 172


def unpack_bones(wheel: Path, target: Path) -> int:
    """Copy the bones' files into the folder; returns how many."""
    target.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(wheel) as archive:
        names = [name for name in archive.namelist() if name.startswith(INSIDE) and name.endswith(".stl")]
        for name in names:
            (target / Path(name).name).write_bytes(archive.read(name))
    return len(names)


def main() -> None:
    target = Path(sys.argv[1])
    with tempfile.TemporaryDirectory() as folder:
        count = unpack_bones(download_wheel(PACKAGE, SHA256, Path(folder)), target)
    if count != BONES:
        sys.exit(f"{PACKAGE}: {count} bones where {BONES} were expected")
    print(f"{count} bones in {target}")


if __name__ == "__main__":
    main()
