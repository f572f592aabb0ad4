"""Driving a posing tool as Blender's window would: begun under the mouse, moved, keys pressed, ended."""

from __future__ import annotations

from types import FunctionType, SimpleNamespace
from typing import Any

import bpy
import numpy as np
from driving import Context, Manager, Workspace
from mathutils import Matrix
from scenes import Scene

SIZE = (800, 600)


class Region(SimpleNamespace):
    """A 3D view's region."""

    def as_pointer(self) -> int:
        return 4711


class Area:
    """Keeps what was written into the header; the whole of it is the view."""

    regions = ()

    def __init__(self) -> None:
        self.texts: list[str | None] = []
        self.header_text_set = self.texts.append


def look_from(direction: tuple[float, float, float], up: tuple[float, float, float], span: float) -> SimpleNamespace:
    """An orthographic view from a direction onto the origin; span : scene units over the region's width."""
    back, above = np.array(direction, float), np.array(up, float)
    right = np.cross(above, back)
    view = np.eye(4)
    view[:3, :3] = (right, above, back)
    view[2, 3] = -10.0
    lens = np.diag([2 / span, 2 / span * SIZE[0] / SIZE[1], -0.01, 1.0])
    as_matrix = [Matrix(m.tolist()) for m in (view, lens @ view, lens)]
    names = ("view_matrix", "perspective_matrix", "window_matrix")
    return SimpleNamespace(is_perspective=False, view_perspective="ORTHO", **dict(zip(names, as_matrix, strict=True)))


class PosingDrive:
    """A posing tool of the add-on with its properties, driven event by event; the view is from the animal's right."""

    def __init__(self, part: Any, operator: type, view: Any = None, **given: object) -> None:
        own = {name: kept for name, kept in vars(operator).items() if isinstance(kept, FunctionType | str | bool)}
        own = {name: kept for name, kept in own.items() if not name.startswith("__")}
        kind = getattr(bpy.ops.counterpoise, operator.bl_idname.split(".")[1]).get_rna_type()
        defaults = {p.identifier: read_default(p) for p in kind.properties if p.identifier != "rna_type"}
        self.reports: list[tuple[set[str], str]] = []
        own["report"] = lambda _self, kind, text: self.reports.append((kind, text))
        bases = tuple(base for base in operator.__mro__ if base.__module__.startswith(part("operators").__name__))
        self.tool = type("Driven", bases[1:], defaults | own)()
        for name, value in given.items():
            setattr(self.tool, name, value)
        self.tool.properties = SimpleNamespace(is_property_set=lambda name: name in vars(self.tool))
        self.texts: list[str | None] = []
        self.area = Area()
        self.context = Context(
            window=object(), screen=None, window_manager=Manager(), workspace=Workspace(self.texts), area=self.area,
            region=Region(width=SIZE[0], height=SIZE[1]), region_data=view or look_from((0, -1, 0), (0, 0, 1), 2.0),
        )  # fmt: skip
        self.note = part("bridge.cursor_note")

    def begin(self, *mouse: float) -> set[str]:
        self.mouse = mouse
        return self.tool.begin(self.context, self.event("MOUSEMOVE"))

    def move(self, *mouse: float, **held: bool) -> set[str]:
        self.mouse = mouse
        return self.tool.modal(self.context, self.event("MOUSEMOVE", **held))

    def press(self, *keys: str, **held: bool) -> set[str]:
        for key in keys:
            done = self.tool.modal(self.context, self.event(key, "PRESS", **held))
        return done

    def event(self, kind: str, value: str = "NOTHING", ctrl: bool = False, shift: bool = False) -> SimpleNamespace:
        x, y = self.mouse
        return SimpleNamespace(
            type=kind, value=value, ctrl=ctrl, shift=shift, alt=False, mouse_region_x=x, mouse_region_y=y
        )

    @property
    def lines(self) -> tuple[str, ...]:
        """What is said beside the mouse; empty where nothing is."""
        note = self.note.find_note(self.context)
        return () if note is None else note.lines


def read_default(known: Any) -> Any:
    """Of a property of an operator."""
    if getattr(known, "is_array", False):
        return tuple(known.default_array)
    return getattr(known, "default", None)


def angles(scene: Scene, element: str = "V3") -> np.ndarray:
    return np.asarray(scene.read_pose().angles_rad.get(element, np.zeros(3)))


def channels(scene: Scene) -> list[tuple[float, ...]]:
    return [tuple(v for row in bone.matrix_basis for v in row) for bone in scene.rig.pose.bones]


def place_end(scene: Scene, element: str) -> np.ndarray:
    """Where the end of a bone stands, in the scene."""
    bpy.context.view_layer.update()
    return np.array(scene.rig.matrix_world @ scene.bone_of(element).tail)


def feet(scene: Scene) -> np.ndarray:
    """Where Blender puts the elements that stand on the ground."""
    bpy.context.view_layer.update()
    depsgraph = bpy.context.evaluated_depsgraph_get()
    own = [o for o in scene.rig.children if "counterpoise_element" in o and "leg" in o["counterpoise_element"]]
    return np.array([o.evaluated_get(depsgraph).matrix_world for o in sorted(own, key=lambda o: o.name)])
