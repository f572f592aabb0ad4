"""Writing the hand-over, and checking what stands on the disk."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from journey import Journey
from reading import DriveError

PATIENCE_S = 600


def hand_over(journey: Journey) -> None:
    window, folder = journey.window, Path(journey.plan["handover"])
    window.fill("Hand-over", str(folder))
    window.wait("the folder", lambda s: s["handover_folder"].rstrip("/") == str(folder))
    window.push("Write Hand-over")
    window.wait("the hand-over", lambda s: (folder / "manifest.json").is_file() and not s["running"], PATIENCE_S)
    files = check_files(folder, journey.plan["pose"])
    journey.note("hand-over", f"The hand-over written: {files} files, each with the SHA-256 that its list names")


def check_files(folder: Path, pose: str) -> int:
    """How many files the hand-over lists; DriveError where one is missing or another."""
    listed = json.loads((folder / "manifest.json").read_text("utf-8"))["files"]
    for entry in listed:
        if hashlib.sha256((folder / entry["path"]).read_bytes()).hexdigest() != entry["sha256"]:
            raise DriveError(f"{entry['path']}: its SHA-256 is not the one listed")
    if pose not in (folder / "poses.csv").read_text("utf-8"):
        raise DriveError(f"poses.csv does not name {pose}")
    return len(listed)
