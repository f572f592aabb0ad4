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

from acting import push_element
from balance import compare, show_balance
from beginning import open_demo, take_out_demo, turn_neck
from castings import add_parts, cast, choose_alloy, weigh
from demo import open_blend, restore_running, show_castings, show_contacts
from feeling import bend, feel_limit, see_joint
from ground import touch
from handover import hand_over
from hands import follow, mark, place
from installation import install, uninstall
from joints import check, colour, frame, search
from journey import Journey
from pages import make_browser, open_page
from poses import ask, pose, restore, save, stand, undo
from reading import SPENT, DriveError
from refusals import refuse_scans, refuse_wall
from righting import audit, ghost, right
from skeleton import build, open_tab, stop, survey
from themes import lighten
from window import Window

HERE = Path(__file__).resolve().parent
TUTORIAL = (
    *(install, open_tab, open_page, survey, build, audit, right, pose, see_joint, feel_limit, bend, stand, save),
    *(restore, show_balance, compare, push_element, check, cast, hand_over),
)
"""As docs/tutorial.md tells it: the pictures are those of the page, in its order."""

MADE_UP = (
    *(install, open_tab, open_page, open_demo, turn_neck, take_out_demo, refuse_scans, survey, stop, build),
    *(audit, right, ghost, pose, see_joint),
    *(feel_limit, bend, stand, save, restore, ask, undo, show_balance, compare, push_element, colour, search),
    *(frame, check, lighten, cast, refuse_wall, weigh, choose_alloy, add_parts, touch, place, follow, mark),
    *(hand_over, uninstall),
)
"""The tutorial's steps and all others."""

JOURNEYS = {
    "made-up": MADE_UP,
    "tutorial": TUTORIAL,
    "dog": (install, open_tab, survey, stop, build, pose, stand, save, hand_over),
    "demo": (install, open_blend, restore_running, show_balance, compare, show_contacts, show_castings),
}


def main() -> int:
    plan = json.loads(Path(sys.argv[1]).read_text("utf-8"))
    out = Path(plan["out"])
    state = out / "state.json"
    environment = {**os.environ, "COUNTERPOISE_STATE": str(state), "BROWSER": str(make_browser(out))}
    environment["COUNTERPOISE_SMOOTH"] = "yes" if plan["smooth"] else "no"
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
            journey.hold_against_page()
        except DriveError as error:
            failed = f"{step.__name__}: {error}"
            journey.window.keep_picture("stopped")
            print(f"stopped at {failed}", file=sys.stderr)
        finally:
            for program in (blender, manager):
                program.kill()
                program.wait()
    spent = {what: round(seconds, 1) for what, seconds in SPENT.most_common()}
    print("seconds went into", ", ".join(f"{what} {seconds:.0f}" for what, seconds in spent.items()), flush=True)
    found = {"failed": failed, "steps": journey.steps, "spent_s": spent}
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
