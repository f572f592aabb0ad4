"""From the zip to the hand-over in a Blender window, by mouse and keys; each step is checked before the next.

python3 drive.py PLAN.json, on a virtual screen, in the tree that look.py has made. Leaves pictures and steps.json.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

from balance import compare, show_balance
from castings import add_parts, cast, choose_alloy, weigh
from demo import open_blend, restore_running, show_castings, show_contacts
from ground import touch
from handover import hand_over
from hands import follow, mark, place
from installation import install, uninstall
from joints import check, colour, frame, search
from journey import Journey
from poses import ask, pose, restore, save, stand, undo
from reading import DriveError
from refusals import refuse_scans, refuse_wall
from righting import audit, ghost, right
from skeleton import build, open_tab, stop, survey
from themes import lighten
from window import Window

HERE = Path(__file__).resolve().parent
BEGIN = (install, open_tab, refuse_scans, survey, stop, build)
RIGHT = (audit, right, ghost)
POSE = (pose, stand, save, restore, ask, undo)
JOINTS = (colour, search, frame, check, lighten)
BY_HAND = (cast, refuse_wall, weigh, choose_alloy, add_parts, touch, place, follow, mark)
JOURNEYS = {
    "made-up": (*BEGIN, *RIGHT, *POSE, *JOINTS, *BY_HAND, hand_over, uninstall),
    "dog": (install, open_tab, survey, stop, build, pose, stand, save, hand_over),
    "demo": (install, open_blend, restore_running, show_balance, compare, show_contacts, show_castings),
}


def main() -> int:
    plan = json.loads(Path(sys.argv[1]).read_text("utf-8"))
    out = Path(plan["out"])
    state = out / "state.json"
    environment = {**os.environ, "COUNTERPOISE_STATE": str(state)}
    command = ["blender", "--window-geometry", "0", "0", "1600", "1000", "--python", str(HERE / "reporter.py")]
    journey = Journey(plan, Window(state, out))
    failed = ""
    wait_for_screen()
    manager = subprocess.Popen(["openbox", "--config-file", str(HERE / "openbox.xml")])
    with (out / "blender.log").open("w", encoding="utf-8") as log:
        blender = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
        try:
            for step in JOURNEYS[plan["journey"]]:
                step(journey)
        except DriveError as error:
            failed = f"{step.__name__}: {error}"
            journey.window.keep_picture("stopped")
            print(f"stopped at {failed}", file=sys.stderr)
        finally:
            for program in (blender, manager):
                program.kill()
                program.wait()
    found = {"failed": failed, "steps": journey.steps}
    (out / "steps.json").write_text(json.dumps(found, indent=1), "utf-8")
    return 1 if failed else 0


def wait_for_screen(seconds: float = 60) -> None:
    """Until programs can open the virtual screen."""
    until = time.monotonic() + seconds
    while subprocess.run(["xdotool", "getdisplaygeometry"], capture_output=True, check=False).returncode:
        if time.monotonic() > until:
            raise SystemExit(f"no virtual screen after {seconds:.0f} s")
        time.sleep(0.2)


if __name__ == "__main__":
    sys.exit(main())
