"""The manifest: every file of a hand-over, or of a range report, with its size and SHA-256, written last."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from ..mesh.reading import hash_file

MANIFEST = "manifest.json"
SCHEMA, RANGES_SCHEMA = "counterpoise hand-over", "counterpoise ranges"
SCHEMA_VERSION = 1
_KINDS = {SCHEMA: "hand-over", RANGES_SCHEMA: "range report"}

_LITTER = {".ds_store", "thumbs.db", "desktop.ini"}
"""What operating systems leave in folders by themselves (lower case)."""


def write_manifest(folder: Path, facts: Mapping[str, Any], schema: str = SCHEMA) -> None:
    """Write the manifest of everything that is in the folder.

    Parameters
    ----------
    facts : what else it says; each key beside `schema`, `schema_version` and `files`
    schema : what the folder is
    """
    files = [
        {"path": path.relative_to(folder).as_posix(), "bytes": path.stat().st_size, "sha256": hash_file(path)}
        for path in list_files(folder)
    ]
    manifest = {"schema": schema, "schema_version": SCHEMA_VERSION, **facts, "files": files}
    text = json.dumps(manifest, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    (folder / MANIFEST).write_text(text, encoding="utf-8", newline="\n")


def list_files(folder: Path) -> Iterator[Path]:
    """Every file below the folder but the manifest itself, in order of its path."""
    for path in sorted(folder.rglob("*")):
        if not path.is_dir() and path != folder / MANIFEST:
            yield path


def find_foreign_file(folder: Path, schema: str = SCHEMA) -> str | None:
    """Why a folder is not of this kind exactly as it was written, or None where it is.

    A file that was added or changed since is somebody's work: it must not be lost with the folder.
    """
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        if manifest["schema"] != schema:
            return f"its manifest is not that of a {_KINDS[schema]}"
        listed = {entry["path"]: (entry["bytes"], entry["sha256"]) for entry in manifest["files"]}
    except (OSError, ValueError, KeyError, TypeError):
        return f"it is not a {_KINDS[schema]}: it has no manifest of one"
    for path in list_files(folder):
        name = path.relative_to(folder).as_posix()
        if name not in listed:
            if path.name.lower() in _LITTER:
                continue
            return f"{name} was put into it by somebody"
        if path.is_symlink() or (path.stat().st_size, hash_file(path)) != listed[name]:
            return f"{name} was changed since it was written"
    return None
