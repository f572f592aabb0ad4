"""Drag bones of a skeleton in Blender by the posing tools and time each move of the mouse: run by bench_drag.py.

    BLENDER_USER_RESOURCES=FRESH_FOLDER python drag.py ZIP DOCUMENT RESULT.json [MOVES]

Runs in a Python that holds Blender's module and nothing of ours but the zip, which it installs. At every move the
tool's own event handler solves and writes the pose, Blender evaluates the scene, and the add-on's timer function
computes the figures. Twice: part by part, all three at every move, one after the other, as fast as they go; and as a
hand has it, the mouse moving 60 times a second and the figures when the add-on's timer is due, which lets several moves
pass for one set of figures. What is in neither: drawing, which needs a screen.
"""

from __future__ import annotations

import importlib
import json
import math
import sys
import time
from dataclasses import fields
from pathlib import Path
from typing import Any

import bpy
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "blender"))
sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))

from leaving import run_and_leave
from posing_drive import SIZE, PosingDrive, look_from

PACKAGE = "bl_ext.user_default.counterpoise"
STEP, BLENDER, FIGURES = "the tool's step", "Blender's own update", "the figures"
MIDDLE, REACH_PX = np.array(SIZE) / 2, 60.0
WARMING = 5
MOUSE_S = 1 / 60
"""So often a mouse is read on a screen of 60 Hz."""


def main() -> None:
    extension, document, result = (Path(argument).resolve() for argument in sys.argv[1:4])
    moves = int(sys.argv[4]) if len(sys.argv) > 4 else 120
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.extensions.package_install_files(filepath=str(extension), repo="user_default", enable_on_install=True)
    bpy.ops.counterpoise.open_document(filepath=str(document))
    skeleton = json.loads(document.read_text(encoding="utf-8"))
    if skeleton["poses"]:
        bpy.ops.counterpoise.restore_pose(name=skeleton["poses"][0]["name"])
    bpy.ops.counterpoise.stand()
    drags, by_hand = {}, {}
    for name, tool, element, given in list_drags():
        drags[name] = drag(tool, element, given, moves)
        by_hand[name] = drag_by_hand(tool, element, given, moves)
    record = {
        "blender": bpy.app.version_string,
        "elements": len(skeleton["skeleton"]["elements"]),
        "drags": drags,
        "by hand": by_hand,
        "live": list_live(),
    }
    result.write_text(json.dumps(record), encoding="utf-8")


def part(name: str) -> Any:
    """A module of the installed add-on."""
    return importlib.import_module(f"{PACKAGE}.{name}")


def list_drags() -> list[tuple[str, type, str, dict[str, Any]]]:
    """What is dragged: shown name, operator, the element whose bone is active, properties."""
    kept = part("bridge.kept_document").keep_document(bpy.context.scene)
    bending, reaching, turning = (part(f"operators.{name}") for name in ("bending", "reaching", "turning"))
    found: list[tuple[str, type, str, dict[str, Any]]] = []
    turning_joints = {joint.child for joint in kept.document.skeleton.joints if joint.moves}
    for chain in kept.posing.chains:
        own = [child for child in chain.children if child in turning_joints]
        joints, tip = len(own), own[-1] if own else ""
        if chain.kind in ("neck", "tail"):
            middle = own[joints // 2]
            found += [
                (f"one joint of the {chain.kind} turned", turning.COUNTERPOISE_OT_turn_joint, middle, {}),
                (f"{chain.kind} bent, {joints} joints", bending.COUNTERPOISE_OT_bend_chain, middle, {}),
                (f"tip of the {chain.kind} reaches, {joints} joints", reaching.COUNTERPOISE_OT_reach, tip, {}),
            ]
        elif chain.kind == "limb" and joints and not any("a limb" in name for name, *_ in found):
            found.append((f"a limb reaches, {joints} joints", reaching.COUNTERPOISE_OT_reach, tip, {}))
        if chain.kind == "neck":
            found.append(("the head reaches, the feet held", reaching.COUNTERPOISE_OT_reach, tip, {"hold_feet": True}))
    return found


def drag(tool: type, element: str, given: dict[str, Any], moves: int) -> list[dict[str, list[float]]]:
    """Of each move the seconds on the wall, and those that the process had of a processor, by part.

    The first few, which load what is needed once, are not counted; nor is a move that a limit answers with the pose
    that there was.
    """
    drive, figures, samples = begin(tool, element, given), part("bridge.figures"), []
    for move in range(moves + WARMING):
        shown = figures.live_figures()
        times = [read_clocks()]
        drive.move(*place_mouse(move / moves))
        times.append(read_clocks())
        bpy.context.view_layer.update()
        times.append(read_clocks())
        refresh()
        times.append(read_clocks())
        if move >= WARMING and figures.live_figures() is not shown:
            spent = np.diff(np.array(times), axis=0).tolist()
            samples.append(dict(zip((STEP, BLENDER, FIGURES), spent, strict=True)))
    drive.press("ESC")
    if figures.current_problem() or len(samples) < moves // 4:
        sys.exit(f"{element}: {len(samples)} of {moves} moves counted; {figures.current_problem()}")
    return samples


def drag_by_hand(tool: type, element: str, given: dict[str, Any], moves: int) -> dict[str, Any]:
    """The same drag by a hand: moves come at their time, whatever goes on; those that come meanwhile are one.

    late_s : of each move from when the mouse was there until its pose is evaluated, with the figures that were computed
    before the next: what was still going on when the mouse came there counts as the move's own
    figures : sets of figures; took_s : the whole drag
    """
    drive, delay_s = begin(tool, element, given), part("bridge.handlers").DELAY_S
    late, count, due = [], 0, math.inf
    came = start = time.perf_counter()
    while came < start + moves * MOUSE_S:
        drive.move(*place_mouse((came - start) / (moves * MOUSE_S)))
        bpy.context.view_layer.update()
        done = time.perf_counter()
        late.append(done - came)
        due = min(due, done + delay_s)
        if due < next_place(start, done):
            sleep_until(due)
            begun = time.perf_counter()
            refresh()
            done = time.perf_counter()
            late[-1] += done - begun
            count, due = count + 1, math.inf
        came = max(came + MOUSE_S, next_place(start, done) - MOUSE_S)
        sleep_until(came)
    took = time.perf_counter() - start
    drive.press("ESC")
    return {"late_s": late, "figures": count, "took_s": took}


def next_place(start: float, now: float) -> float:
    """When the mouse is somewhere else."""
    return start + MOUSE_S * (1 + math.floor((now - start) / MOUSE_S))


def begin(tool: type, element: str, given: dict[str, Any]) -> PosingDrive:
    """The tool in use on an element's bone, seen from the side."""
    take_bone(element)
    drive = PosingDrive(part, tool, look_from((0, -1, 0), (0, 0, 1), 6.0), **given)
    if drive.begin(*MIDDLE) != {"RUNNING_MODAL"}:
        sys.exit(f"{element}: {drive.reports}")
    return drive


def place_mouse(share: float) -> np.ndarray:
    """(2,) at a share of the drag [px]: round and to and fro, so that no two places are the same."""
    turn = 2 * np.pi * share
    return MIDDLE + REACH_PX * np.array([np.sin(turn), np.sin(2.1 * turn)])


def sleep_until(moment: float) -> None:
    """Where that is still to come."""
    time.sleep(max(0.0, moment - time.perf_counter()))


def refresh() -> None:
    """As the timer does it."""
    handlers = part("bridge.handlers")
    with handlers.hold_texts():
        handlers.refresh_scene(bpy.context)


def read_clocks() -> tuple[float, float]:
    """The wall's, and the processor's for all threads of the process."""
    return time.perf_counter(), time.process_time()


def take_bone(element: str) -> None:
    """Into pose mode, an element's bone active."""
    rig = bpy.context.scene.counterpoise.rig
    bpy.context.view_layer.objects.active = rig
    rig.select_set(True)
    bpy.ops.object.mode_set(mode="POSE")
    rig.data.bones.active = part("bridge.rig_in_hand").find_bone(rig, element).bone


def list_live() -> dict[str, list[str]]:
    """Names of the figures that every move computes anew, and of those that wait until the pose rests."""
    figures, text = part("bridge.figures"), part("bridge.figure_text")
    live = figures.drawn_live(bpy.context.scene)[1]
    waiting = [own.name for own in live.figures.findings if own.state == text.NOT_KNOWN and own.name in text.SLOW]
    lists = (
        "pose",
        "findings",
        "note",
        "hits",
        "moved",
        "outside",
        "outside_short",
        "feet",
        "state",
        "cases",
        "chains",
    )
    names = [field.name for own in (live.figures, live.balance) for field in fields(own)]
    told = [name.replace("_", " ") for name in names if name not in lists]
    told += ["joints outside their range", f"{len(live.uses)} joints against theirs"]
    told += ["what every foot takes, with its range"]
    told += [f"greatest moment of {own.chain}" for own in live.balance.chains]
    told += [f"tipping and sliding: {own.name}" for own in live.balance.cases]
    told += [f"check: {own.name}" for own in live.figures.findings if own.name not in waiting]
    return {"live": list(dict.fromkeys(told)), "at rest": waiting}


if __name__ == "__main__":
    run_and_leave(main)
