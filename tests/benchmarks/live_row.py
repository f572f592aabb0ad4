"""Turn bones of a skeleton in Blender and time what the panel's live row costs: run by bench_live_row.py.

    BLENDER_USER_RESOURCES=FRESH_FOLDER python live_row.py ZIP DOCUMENT RESULT.json [UPDATES]

Runs in a Python that holds Blender's module and nothing of ours but the zip, which it installs. Each update turns one
bone, lets Blender evaluate the scene and computes the figures by the function that the add-on's timer calls. Its parts
are timed from within, each without the parts that it calls in turn.
"""

from __future__ import annotations

import importlib
import json
import random
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import bpy
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2] / "demo_blend"))

from leaving import run_and_leave

PACKAGE = "bl_ext.user_default.counterpoise"
BLENDER = "Blender's own update"
WHOLE = "the panel's whole update"
REST = "the rest (keys, comparing)"
WARMING = 5
ASSESS, ROWS = "core_calcs.studies.assess", "bridge.handlers"
PARTS = (
    ("rows of lists", ROWS, "mirror_rows"),
    ("rows of lists", ROWS, "refresh_castings"),
    ("finding the document", ROWS, "keep_document"),
    ("finding the document", "bridge.figures", "keep_document"),
    ("finding the document", "bridge.castings", "keep_document"),
    ("reading the pose", "bridge.figures", "read_scene_pose"),
    ("kinematics", ASSESS, "move_elements"),
    ("masses", ASSESS, "_weigh_pose"),
    ("masses", ASSESS, "_list_masses"),
    ("contacts", ASSESS, "place_contacts"),
    ("reactions and cuts", ASSESS, "solve_carried"),
    ("actions", ASSESS, "list_acting"),
    ("EQU and sliding", ASSESS, "study_balance"),
    ("feet", ASSESS, "load_feet"),
    ("joints against limits", ASSESS, "_list_uses"),
    ("checks", ASSESS, "make_checks"),
    ("beams", ASSESS, "load_joints"),
    ("uncertainties", ASSESS, "propagate_uncertainties"),
    ("outline, margins, base", "bridge.figures", "assess_prepared"),
    ("clearance and wind, whether known", "bridge.figures", "known_clearance"),
    ("clearance and wind, whether known", "bridge.figures", "known_shown"),
    ("clearance and wind, whether known", "bridge.figures", "known_acting"),
    ("words for the panel", "bridge.figures", "word_figures"),
    ("words for the panel", "bridge.figures", "word_balance"),
)
"""Shown name, module of the add-on, and the function there that is timed."""


class Clock:
    """Time spent in each part, without the parts inside it."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = {}
        self.inside: list[float] = []

    def time(self, part: str, work: Callable[..., Any]) -> Callable[..., Any]:
        """The same function, its time added to a part."""

        def timed(*arguments: Any, **options: Any) -> Any:
            self.inside.append(0.0)
            began = time.perf_counter()
            try:
                return work(*arguments, **options)
            finally:
                took = time.perf_counter() - began
                self.spent[part] = self.spent.get(part, 0.0) + took - self.inside.pop()
                if self.inside:
                    self.inside[-1] += took

        return timed


def main() -> None:
    extension, document, result = (Path(argument).resolve() for argument in sys.argv[1:4])
    updates = int(sys.argv[4]) if len(sys.argv) > 4 else 200
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.extensions.package_install_files(filepath=str(extension), repo="user_default", enable_on_install=True)
    bpy.ops.counterpoise.open_document(filepath=str(document))
    settings = bpy.context.scene.counterpoise
    skeleton = json.loads(document.read_text(encoding="utf-8"))
    if skeleton["poses"]:
        bpy.ops.counterpoise.restore_pose(name=skeleton["poses"][0]["name"])
    bpy.ops.counterpoise.stand()
    figures, handlers = (importlib.import_module(f"{PACKAGE}.bridge.{name}") for name in ("figures", "handlers"))
    joints = [joint["child"] for joint in skeleton["skeleton"]["joints"] if joint["kind"] != "fixed"]

    def refresh(context: Any) -> bool:
        with handlers.hold_texts():
            return bool(handlers.refresh_scene(context))

    steps = drag(settings.rig, joints, figures, refresh, updates)
    parts = drag_by_part(settings.rig, joints, figures, handlers, updates)
    facets = time_facets(settings, joints, updates)
    balance = time_balance(settings, joints, refresh, updates)
    ranges = time_ranges(settings.rig, joints, refresh, updates)
    if figures.current_problem() or figures.live_figures() is None:
        sys.exit(f"no live figures: {figures.current_problem()}")
    record = {
        "blender": bpy.app.version_string,
        "elements": len(skeleton["skeleton"]["elements"]),
        "bones": len(joints),
        "steps": steps,
        "parts": parts,
        "facets_s": facets,
        "balance_s": balance,
        "ranges_s": ranges,
    }
    result.write_text(json.dumps(record), encoding="utf-8")


def drag(
    rig: Any, joints: list[str], figures: Any, refresh: Callable[[Any], bool], updates: int
) -> list[dict[str, list[float]]]:
    """Of each update the seconds on the wall, and those that the process had of a processor: of Blender's, of ours.

    The first few, which load what is needed once, are not counted. A bone that its limits hold back gives the pose that
    there was: nothing is computed, and that is not counted either. Nothing else is timed meanwhile: reading the clock
    takes time as well.
    """
    rng, samples = random.Random(1), []
    for attempt in range(2 * updates):
        bone = rig.pose.bones[rng.choice(joints)]
        before, shown = tuple(bone.rotation_euler), figures.live_figures()
        bone.rotation_euler = [angle + rng.uniform(-0.05, 0.05) for angle in before]
        times = [read_clocks()]
        bpy.context.view_layer.update()
        times.append(read_clocks())
        refresh(bpy.context)
        times.append(read_clocks())
        bone.rotation_euler = before  # so that the body stays about where it stood, and in balance
        if attempt >= WARMING and figures.live_figures() is not shown:
            began, evaluated, ended = np.array(times)
            samples.append({BLENDER: (evaluated - began).tolist(), WHOLE: (ended - evaluated).tolist()})
        if len(samples) == updates:
            return samples
    sys.exit(f"of {2 * updates} turns only {len(samples)} changed the pose")


def read_clocks() -> tuple[float, float]:
    """The wall's, and the processor's for all threads of the process."""
    return time.perf_counter(), time.process_time()


def drag_by_part(rig: Any, joints: list[str], figures: Any, handlers: Any, updates: int) -> list[dict[str, float]]:
    """The same once more, for the seconds of each part of our update."""
    clock, samples = Clock(), []
    for part, module, function in PARTS:
        owner = importlib.import_module(f"{PACKAGE}.{module}")
        setattr(owner, function, clock.time(part, getattr(owner, function)))
    whole = clock.time(REST, handlers.refresh_scene)

    def refresh(context: Any) -> bool:
        clock.spent.clear()
        with handlers.hold_texts():
            found = whole(context)
        samples.append(dict(clock.spent))
        return bool(found)

    drag(rig, joints, figures, refresh, updates)
    return samples[-updates:]


def time_facets(settings: Any, joints: list[str], runs: int) -> list[float]:
    """Seconds of finding what is drawn of all joints' facets after a bone was turned: done as the view is drawn."""
    posed_facets = importlib.import_module(f"{PACKAGE}.bridge.posed_facets")
    settings.overlays.facets = "ALL"
    rng, times = random.Random(2), []
    for _ in range(WARMING + runs):
        bone = settings.rig.pose.bones[rng.choice(joints)]
        bone.rotation_euler = [angle + rng.uniform(-0.01, 0.01) for angle in bone.rotation_euler]
        bpy.context.view_layer.update()
        began = time.perf_counter()
        posed_facets.find_facets(bpy.context)
        times.append(time.perf_counter() - began)
    return times[WARMING:]


def time_balance(settings: Any, joints: list[str], refresh: Callable[[Any], bool], runs: int) -> list[float]:
    """Seconds of finding all that is drawn of the balance after a bone was turned: done as the view is drawn."""
    balance = importlib.import_module(f"{PACKAGE}.bridge.balance")
    for name in ("support", "reactions", "moments", "rose"):
        setattr(settings.overlays, name, True)
    rng, times = random.Random(4), []
    for _ in range(WARMING + runs):
        bone = settings.rig.pose.bones[rng.choice(joints)]
        before = tuple(bone.rotation_euler)
        bone.rotation_euler = [angle + rng.uniform(-0.01, 0.01) for angle in before]
        bpy.context.view_layer.update()
        refresh(bpy.context)
        began = time.perf_counter()
        found = balance.find_balance(bpy.context)
        times.append(time.perf_counter() - began)
        bone.rotation_euler = before
        if found is None or found.support is None or found.moments is None:
            sys.exit("not all of the balance is found")
    return times[WARMING:]


def time_ranges(rig: Any, joints: list[str], refresh: Callable[[Any], bool], runs: int) -> list[float]:
    """Seconds of finding every bone's line and its figure after a bone was turned: done as the view is drawn."""
    ranges = importlib.import_module(f"{PACKAGE}.bridge.ranges")
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="POSE")
    rng, times = random.Random(3), []
    for _ in range(WARMING + runs):
        bone = rig.pose.bones[rng.choice(joints)]
        bone.rotation_euler = [angle + rng.uniform(-0.01, 0.01) for angle in bone.rotation_euler]
        bpy.context.view_layer.update()
        refresh(bpy.context)
        began = time.perf_counter()
        found = ranges.find_ranges(bpy.context)
        times.append(time.perf_counter() - began)
        if found is None or len(found.children) < len(joints):
            sys.exit("not every joint that turns has its line")
    return times[WARMING:]


if __name__ == "__main__":
    run_and_leave(main)
