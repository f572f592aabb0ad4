"""From the scans to the hand-over in a Blender window, by mouse and keys; each step is checked before the next.

python3 drive.py PLAN.json, on a virtual screen, in the tree that look.py has made. Leaves pictures and steps.json.
"""

from __future__ import annotations

import csv
import hashlib
import json
import math
import os
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

from window import DriveError, Window

HERE = Path(__file__).resolve().parent


@dataclass
class Drive:
    """The way through, with what it has seen."""

    plan: dict
    window: Window
    steps: list[dict] = field(default_factory=list)
    begun: float = field(default_factory=time.monotonic)

    def note(self, name: str, shows: str) -> None:
        """Keep the picture of a step that has been checked."""
        self.window.point_at_view()
        time.sleep(1.0)
        picture = self.window.keep_picture(f"{len(self.steps) + 1:02d}-{name}")
        seconds = round(time.monotonic() - self.begun, 1)
        self.steps.append({"picture": picture.name, "shows": shows, "seconds": seconds})
        print(f"{seconds:6.1f} s  {picture.name}  {shows}", flush=True)

    def open_tab(self) -> None:
        window = self.window
        window.wait("the add-on to be enabled", lambda s: s["enabled"], 60)
        window.point_at_view()
        window.press("Escape", "a", "Delete")
        window.wait("an empty scene", lambda s: s["objects"] == 0)
        window.press("ctrl+space")
        window.press("n")
        window.wait("the sidebar", lambda s: s["sidebar"])
        window.open_tab("Counterpoise")
        self.note("tab", "The tab after installing: the steps in the order of the work, each saying what it needs")

    def survey(self) -> None:
        window, plan = self.window, self.plan
        window.fill("Scans", plan["scans"])
        window.wait("the folder", lambda s: s["folder"].rstrip("/") == plan["scans"])
        window.choose("Unit", plan["unit_label"])
        window.wait("the unit", lambda s: s["unit"] == plan["unit"])
        window.fill("Table", plan["table"])
        window.wait("the table's path", lambda s: s["table"] == plan["table"])
        window.push("Survey the Scans")
        window.wait("the survey", lambda s: "Survey" in s["texts"], 120)
        rows = [row for row in read_rows(Path(plan["table"])) if row["attachment"] != "left out"]
        if len(rows) != plan["elements"]:
            raise DriveError(f"the table takes in {len(rows)} elements, not {plan['elements']}")
        self.note("survey", "Folder and unit given, the scans surveyed, the element table written")

    def build(self) -> None:
        window, plan = self.window, self.plan
        window.push("Build Skeleton and Rig")
        state = window.wait("the skeleton", lambda s: s.get("poses"), 400)
        if state["objects"] != plan["elements"] + 1:
            raise DriveError(f"{state['objects']} objects for {plan['elements']} elements and a rig")
        window.point_at_view()
        window.press("ctrl+KP_1", "KP_4", "KP_8", "Home")
        time.sleep(1.5)
        window.wait("live figures", lambda s: s.get("live"), 60)
        window.scroll(-60)
        self.note(
            "skeleton", "Elements by series and the rig, seen from the animal's left; the live pose has its figures"
        )

    def pose(self) -> None:
        window, bones = self.window, self.plan["bones"]
        before = window.state()
        window.click(*before["bones"][bones[0]])
        state = window.wait("the rig selected", lambda s: s["active"] == s["rig"])
        window.press("ctrl+Tab")
        window.wait("pose mode", lambda s: s["mode"] == "POSE")
        wanted = math.radians(self.plan["degrees"])
        for bone in bones:  # one by one: Blender turns the upper one alone where one hangs on the other
            window.click(*window.state()["bones"][bone])
            window.wait(f"{bone} selected", lambda s, bone=bone: s["selected"] == [bone])
            window.press("r", "x", "x", *str(self.plan["degrees"]), "Return")
            window.wait(
                f"{bone} turned by {self.plan['degrees']}°",
                lambda s, bone=bone: abs(s["turns"].get(bone, [0])[0] - wanted) < 1e-3,
            )
        state = window.wait("the live row to follow", lambda s: s["live"]["centre"] != before["live"]["centre"])
        print(f"         live: {before['live']} -> {state['live']}", flush=True)
        self.note(
            "pose", f"Bones turned by R X X {self.plan['degrees']} Enter in pose mode; the live figures have followed"
        )

    def stand(self) -> None:
        window = self.window
        before = window.state()["root"]
        window.push("Stand on the Ground")
        window.wait("the whole to move", lambda s: far(s["root"], before) > 1e-5)
        self.note("stand", "The whole moved so that its feet stand on the ground")

    def save(self) -> None:
        window, name = self.window, self.plan["pose"]
        x, y = window.find("Save Pose").middle
        left = window.state()["regions"]["UI"][0]
        window.type_at(left + 0.25 * (x - left), y, name)
        window.wait("the name", lambda s: s["pose_name"] == name)
        window.push("Save Pose")
        window.wait("the pose saved", lambda s: name in s["poses"])
        window.find(f"{name}:")
        self.note("saved", "The pose saved under a name, with its own row of figures")

    def restore(self) -> None:
        window = self.window
        kept = window.state()
        window.push("Back to Neutral")
        window.wait("no turns", lambda s: not s["turns"])
        window.click(*window.row_end(f"{self.plan['pose']}:", 1))
        state = window.wait("the turns again", lambda s: set(s["turns"]) == set(kept["turns"]))
        worst = max(far([state["turns"][bone]], [turn]) for bone, turn in kept["turns"].items())
        if worst > 1e-5 or far(state["root"], kept["root"]) > 1e-5:
            raise DriveError(f"restored, but {worst} rad off")
        self.note("restored", "Back to neutral, and the saved pose restored from its row")

    def undo(self) -> None:
        window = self.window
        window.point_at_view()
        window.press("ctrl+z")
        window.wait("neutral after undo", lambda s: not s["turns"])
        window.press("ctrl+shift+z")
        window.wait("the pose after redo", lambda s: s["turns"])

    def hand_over(self) -> None:
        window, folder = self.window, Path(self.plan["handover"])
        window.fill("Hand-over", str(folder))
        window.wait("the folder", lambda s: s["handover_folder"].rstrip("/") == str(folder))
        window.push("Write Hand-over")
        until = time.monotonic() + 300
        while not (folder / "manifest.json").is_file():
            if time.monotonic() > until:
                raise DriveError("no hand-over after 300 s")
            time.sleep(0.5)
        time.sleep(2)
        files = check_handover(folder, self.plan["pose"])
        self.note("hand-over", f"The hand-over written: {files} files, each with the SHA-256 that its list names")


def far(a: list[list[float]], b: list[list[float]]) -> float:
    """Greatest difference of two tables of numbers."""
    return max(abs(p - q) for r, s in zip(a, b, strict=True) for p, q in zip(r, s, strict=True))


def read_rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def check_handover(folder: Path, pose: str) -> int:
    """How many files the hand-over lists; DriveError where one is missing or another."""
    listed = json.loads((folder / "manifest.json").read_text("utf-8"))["files"]
    for entry in listed:
        if hashlib.sha256((folder / entry["path"]).read_bytes()).hexdigest() != entry["sha256"]:
            raise DriveError(f"{entry['path']}: its SHA-256 is not the one listed")
    if pose not in (folder / "poses.csv").read_text("utf-8"):
        raise DriveError(f"poses.csv does not name {pose}")
    return len(listed)


def main() -> int:
    plan = json.loads(Path(sys.argv[1]).read_text("utf-8"))
    out = Path(plan["out"])
    state = out / "state.json"
    environment = {**os.environ, "COUNTERPOISE_STATE": str(state)}
    command = ["blender", "--window-geometry", "0", "0", "1600", "1000", "--python", str(HERE / "reporter.py")]
    drive = Drive(plan, Window(state, out))
    failed = ""
    with (out / "blender.log").open("w", encoding="utf-8") as log:
        blender = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
        try:
            for step in ("open_tab", "survey", "build", "pose", "stand", "save", "restore", "undo", "hand_over"):
                getattr(drive, step)()
        except DriveError as error:
            failed = f"{step}: {error}"
            drive.window.keep_picture("stopped")
            print(f"stopped at {failed}", file=sys.stderr)
        finally:
            blender.kill()
            blender.wait()
    found = {"failed": failed, "steps": drive.steps}
    (out / "steps.json").write_text(json.dumps(found, indent=1), "utf-8")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
