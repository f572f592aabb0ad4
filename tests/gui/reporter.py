"""Runs inside the Blender under test and writes what it holds to a file, some times a second. Changes only the splash,
the smoothing of edges where that is not asked for, and the theme where a file `theme` beside it asks for another.

blender --python reporter.py, with COUNTERPOISE_STATE naming the file. Screen places are pixels from the top left.
"""

from __future__ import annotations

import importlib
import itertools
import json
import math
import os
import sys
import time
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import bmesh
import bpy
from bpy_extras.view3d_utils import location_3d_to_region_2d

PACKAGE = "bl_ext.user_default.counterpoise"
STATE = Path(os.environ["COUNTERPOISE_STATE"])
EVERY_S = 0.05
LATER = 3
"""Reports between a question and its answer: Blender has taken in by then what was sent before the question."""

TEXTS_S = 1.0
"""So often at least the text blocks are read, if nobody asks: that of a skeleton takes as long as all else by far."""

reports = itertools.count(1)
themes = ["dark"]


@dataclass
class Texts:
    """The text blocks as they were read last, and the question that this answered."""

    question: str = ""
    asked_at: int = 0
    answered: str = ""
    read_at: float = -math.inf
    took_s: float = 0.0
    whole: dict[str, str] = field(default_factory=dict)


texts = Texts()


def report() -> float:
    """Write the state; called again by Blender's timer, the later the longer it took."""
    begun, number = time.monotonic(), next(reports)
    read_texts(number)
    read_s = time.monotonic() - begun
    try:
        state = read_state()
    except (AttributeError, IndexError, ReferenceError, RuntimeError) as error:  # between two files or two screens
        state = {"ready": False, "why": repr(error)}
    beside = STATE.with_suffix(".part")
    beside.write_text(json.dumps(state | {"reports": number, "answered": texts.answered}), "utf-8")
    beside.replace(STATE)
    return max(EVERY_S, 3 * (time.monotonic() - begun - read_s))


def read_texts(number: int) -> None:
    """All text blocks anew, some reports after a question was put, and now and then without one."""
    asked = STATE.with_name("question")
    question = asked.read_text("utf-8") if asked.is_file() else ""
    if question != texts.question:
        texts.question, texts.asked_at = question, number
    due = question != texts.answered and number >= texts.asked_at + LATER
    begun = time.monotonic()
    if due or begun > texts.read_at + max(TEXTS_S, 4 * texts.took_s):
        texts.whole = {text.name: text.as_string() for text in bpy.data.texts}
        texts.read_at = time.monotonic()
        texts.took_s = texts.read_at - begun
        texts.answered = question if due else texts.answered


def follow_theme() -> str:
    """Light or dark, as asked for."""
    asked = STATE.with_name("theme")
    wanted = asked.read_text("utf-8") if asked.is_file() else "dark"
    if wanted != themes[-1]:
        folder = bpy.utils.preset_paths("interface_theme")[0]
        preset = Path(folder) / f"Blender_{wanted.title()}.xml"
        bpy.ops.script.execute_preset(filepath=str(preset), menu_idname="USERPREF_MT_interface_theme_presets")
        themes.append(wanted)
    return wanted


def read_state() -> dict[str, object]:
    window = bpy.context.window_manager.windows[0]
    area = max((a for a in window.screen.areas if a.type == "VIEW_3D"), key=lambda a: a.width * a.height)
    regions = {region.type: region for region in area.regions}
    state: dict[str, object] = {
        "ready": True,
        "theme": follow_theme(),
        "enabled": PACKAGE in bpy.context.preferences.addons,
        "settings": hasattr(window.scene, "counterpoise"),
        "size": [window.width, window.height],
        "version": bpy.app.version_string,
        "sidebar": area.spaces.active.show_region_ui,
        "tab": getattr(regions["UI"], "active_panel_category", ""),
        "regions": {kind: place_region(window, region) for kind, region in regions.items()},
        "section": bpy.context.preferences.active_section,
        "dialogs": {w.screen.areas[0].type: place_window(window, w) for w in find_dialogs(window)},
        "handlers": find_handlers(),
        "running": find_running(),
        "checking": find_checking(),
        "done": [step.bl_idname for step in bpy.context.window_manager.operators],
        "objects": len(window.scene.objects),
        "texts": {name: text[:400] for name, text in texts.whole.items()},
    }
    if hasattr(window.scene, "counterpoise"):
        state |= read_skeleton(window, area, regions["WINDOW"])
    return state


def find_dialogs(main: bpy.types.Window) -> list[bpy.types.Window]:
    """The windows of one editor beside the main one: Preferences, the file browser."""
    return [window for window in bpy.context.window_manager.windows if window != main]


def place_window(main: bpy.types.Window, window: bpy.types.Window) -> list[int]:
    """Left, top, width and height of what is inside its frame; the main window fills the screen."""
    return [window.x, main.height - window.y - window.height, window.width, window.height]


def find_handlers() -> list[str]:
    """Names of the add-on's functions that Blender calls by itself."""
    kinds = (getattr(bpy.app.handlers, name) for name in dir(bpy.app.handlers))
    return [handler.__name__ for kind in kinds if isinstance(kind, list) for handler in kind if is_ours(handler)]


def find_running() -> str:
    """Name of the long step that runs, if one does."""
    module = sys.modules.get(f"{PACKAGE}.bridge.long_work")
    work = module.running_work() if module else None
    return work.name if work else ""


def find_checking() -> bool:
    """Whether a pose that rests is being checked: what is found moves all that stands below it in the sidebar."""
    module = sys.modules.get(f"{PACKAGE}.bridge.resting")
    return module is not None and module.running_checks() is not None


def is_ours(handler: object) -> bool:
    return getattr(handler, "__module__", "").startswith(PACKAGE)


def place_region(window: bpy.types.Window, region: bpy.types.Region) -> list[int]:
    """Left, top, width and height."""
    return [region.x, window.height - region.y - region.height, region.width, region.height]


def read_skeleton(window: bpy.types.Window, area: bpy.types.Area, region: bpy.types.Region) -> dict[str, object]:
    settings = window.scene.counterpoise
    active = window.view_layer.objects.active
    state = {
        "folder": settings.mesh_folder,
        "unit": settings.unit,
        "table": settings.table_path,
        "element": settings.elements[settings.element_index].name if settings.elements else "",
        "pose_name": settings.pose_name,
        "handover_folder": settings.handover_folder,
        "recorded_by": settings.recorded_by,
        "mounted": settings.overlays.mounted,
        "active": active.name if active else "",
        "mode": active.mode if active else "OBJECT",
        "place": [list(row) for row in active.matrix_world] if active else [],
        "faces": count_faces(active),
    }
    if settings.document is None or settings.rig is None:
        return state
    rig = settings.rig
    state |= read_document(texts.whole.get(settings.document.name) or settings.document.as_string())
    state["compared"] = [row.name for row in settings.poses if row.compared]
    state["pose_index"] = settings.pose_index
    rows = [row for row in settings.castings if settings.casting_elements or row.level != "ELEMENT"]
    state["castings"] = [row.name for row in rows]
    state["rig"], state["ranges"] = rig.name, settings.overlays.ranges
    state["moments"], state["rose"] = settings.overlays.moments, settings.overlays.rose
    state["idle"] = [name for name in str(rig.get("counterpoise_idle_feet", "")).split("\n") if name]
    state["selected"] = [bone.name for bone in rig.pose.bones if is_selected(bone)]
    state["turns"] = {bone.name: list(bone.rotation_euler) for bone in rig.pose.bones if is_turned(bone)}
    state["root"] = [list(row) for row in rig.pose.bones[0].matrix]
    view = area.spaces.active.region_3d
    state["bones"] = {}
    for bone in rig.pose.bones:
        place = location_3d_to_region_2d(region, view, rig.matrix_world @ ((bone.head + bone.tail) / 2))
        if place is not None:
            state["bones"][bone.name] = [region.x + place.x, window.height - region.y - place.y]
    state["audit"] = read_audit(window.scene) if PACKAGE in sys.modules else None
    live = (
        importlib.import_module(f"{PACKAGE}.bridge.figures").live_figures(window.scene)
        if PACKAGE in sys.modules
        else None
    )
    if live is not None:
        state["live"] = {name: getattr(live, name) for name in ("mass", "centre", "margin", "tip_angle", "outside")}
        state["hits"] = None if live.hits is None else len(live.hits)
    return state


def read_audit(scene: bpy.types.Scene) -> list[str] | None:
    """What the audit says stands wrong; None where nothing was audited."""
    told = importlib.import_module(f"{PACKAGE}.bridge.audit").drawn_audit(scene)
    return None if told is None else [own.title for own in told.wrong]


def count_faces(active: bpy.types.Object | None) -> int:
    """How many faces are selected in Edit Mode."""
    if active is None or active.mode != "EDIT" or active.type != "MESH":
        return 0
    return sum(face.select for face in bmesh.from_edit_mesh(active.data).faces)


@lru_cache(maxsize=1)
def read_document(text: str) -> dict[str, object]:
    """What the steps look for in the skeleton document."""
    document = json.loads(text)
    skeleton = document["skeleton"]
    marked = {joint["child"]: [mark["element"] for mark in joint["marks"]] for joint in skeleton["joints"]}
    return {
        "poses": [pose["name"] for pose in document["poses"]],
        "build": document["build"],
        "actions": [[own["name"], own["kind"], own["element"]] for own in document["site"]["actions"]],
        "records": [[own["action"], own["elements"], own["why"], own["by"]] for own in document["records"]],
        "feet": {foot["name"]: [contact["element"] for contact in foot["contacts"]] for foot in skeleton["feet"]},
        "turning": [joint["child"] for joint in skeleton["joints"] if joint["limits"] is not None],
        "limits": {joint["child"]: read_ends(joint["limits"]) for joint in skeleton["joints"] if joint["limits"]},
        "marked": {child: elements for child, elements in marked.items() if elements},
        "placed": {joint["child"]: joint["placing"]["reason"] for joint in skeleton["joints"] if joint["placing"]},
        "straddling": {joint["child"]: joint["also"] for joint in skeleton["joints"] if joint["also"]},
    }


def read_ends(limits: list[dict]) -> list[list[float]]:
    """Least and greatest angle about each axis [rad]."""
    return [[own["low"]["angle_rad"], own["high"]["angle_rad"]] for own in limits]


def is_selected(bone: bpy.types.PoseBone) -> bool:
    """Blender 5.0 and newer tell it of the pose's bone, older ones of the rig's."""
    return bone.select if hasattr(bone, "select") else bone.bone.select


def is_turned(bone: bpy.types.PoseBone) -> bool:
    return max(abs(angle) for angle in bone.rotation_euler) > 1e-6


bpy.context.preferences.view.show_splash = False
if os.environ.get("COUNTERPOISE_SMOOTH") != "yes":
    # Without a graphics card Blender draws the view eight times over for smooth edges, after every touch.
    bpy.context.preferences.system.viewport_aa = "OFF"
bpy.app.timers.register(report, first_interval=1.0, persistent=True)
