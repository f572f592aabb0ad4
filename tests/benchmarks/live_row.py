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

PACKAGE = "bl_ext.user_default.counterpoise"
BLENDER = "Blender's own update"
WHOLE = "the live row"
REST = "the rest (keys, comparing)"
ALWAYS = "words for the panel"
WARMING = 5

STUDY = "core_calcs.studies.assess"
PARTS = (
    ("finding the document", "bridge.figures", "keep_document"),
    ("reading the pose", "bridge.figures", "read_scene_pose"),
    ("kinematics", STUDY, "move_elements"),
    ("masses", STUDY, "_weigh_pose"),
    ("contacts", STUDY, "place_contacts"),
    ("reactions and cuts", STUDY, "solve_carried"),
    ("feet", STUDY, "load_feet"),
    ("joints against limits", STUDY, "_list_uses"),
    ("checks", STUDY, "make_checks"),
    ("outline, margins, base, joint loads", "bridge.figures", "assess_prepared"),
    (ALWAYS, "bridge.figures", "word_figures"),
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
    clock, figures = Clock(), importlib.import_module(f"{PACKAGE}.bridge.figures")
    for part, module, function in PARTS:
        owner = importlib.import_module(f"{PACKAGE}.{module}")
        setattr(owner, function, clock.time(part, getattr(owner, function)))
    refresh = clock.time(REST, figures.refresh_figures)
    joints = [joint["child"] for joint in skeleton["skeleton"]["joints"] if joint["kind"] != "fixed"]
    samples = drag(settings.rig, joints, clock, refresh, updates)
    studies = time_whole_study(figures, len(samples))
    facets = time_facets(settings, joints, len(samples))
    balance = time_balance(settings, joints, refresh, len(samples))
    ranges = time_ranges(settings.rig, joints, refresh, len(samples))
    if figures.current_problem() or figures.live_figures() is None:
        sys.exit(f"no live figures: {figures.current_problem()}")
    record = {
        "blender": bpy.app.version_string,
        "elements": len(skeleton["skeleton"]["elements"]),
        "bones": len(joints),
        "samples": samples,
        "whole_study_s": studies,
        "facets_s": facets,
        "balance_s": balance,
        "ranges_s": ranges,
    }
    result.write_text(json.dumps(record), encoding="utf-8")


def drag(
    rig: Any, joints: list[str], clock: Clock, refresh: Callable[[Any], bool], updates: int
) -> list[dict[str, float]]:
    """Seconds by part of each update; the first few, which load what is needed once, are not counted.

    A bone that its limits hold back gives the pose that there was: nothing is computed, and that is not counted either.
    """
    rng, samples = random.Random(1), []
    for attempt in range(2 * updates):
        bone = rig.pose.bones[rng.choice(joints)]
        before = tuple(bone.rotation_euler)
        bone.rotation_euler = [angle + rng.uniform(-0.05, 0.05) for angle in before]
        clock.spent.clear()
        began = time.perf_counter()
        bpy.context.view_layer.update()
        evaluated = time.perf_counter()
        refresh(bpy.context)
        whole = time.perf_counter() - evaluated
        bone.rotation_euler = before  # so that the body stays about where it stood, and in balance
        if attempt >= WARMING and ALWAYS in clock.spent:
            samples.append({BLENDER: evaluated - began, WHOLE: whole, **clock.spent})
        if len(samples) == updates:
            return samples
    sys.exit(f"of {2 * updates} turns only {len(samples)} changed the pose")


def time_whole_study(figures: Any, runs: int) -> list[float]:
    """Seconds of the study alone: every element's mass and joint's load, as the live row has them."""
    study = importlib.import_module(f"{PACKAGE}.{STUDY}")
    kept = figures.keep_document(bpy.context.scene)
    pose = figures.read_scene_pose(bpy.context, kept)
    times = []
    for _ in range(runs):
        began = time.perf_counter()
        study.assess_prepared(kept.prepared, pose, kept.document.site)
        times.append(time.perf_counter() - began)
    return times


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
    main()
