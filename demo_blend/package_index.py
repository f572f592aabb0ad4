"""Bringing a package's wheel from the package index, to be unpacked: it is never installed or imported."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path


def download_wheel(package: str, sha256: str, folder: Path) -> Path:
    """The wheel of a package and version, its hash checked by pip.

    package : as pip names it, e.g. "numpy==2.1.0"
    folder : where it is put
    """
    wanted = folder / "wanted.txt"
    wanted.write_text(f"{package} --hash=sha256:{sha256}\n", encoding="utf-8")
    command = [sys.executable, "-m", "pip", "download", "-q", "--disable-pip-version-check", "--no-deps"]
    subprocess.run([*command, "--require-hashes", "-r", str(wanted), "-d", str(folder)], check=True)
    return next(folder.glob("*.whl"))
