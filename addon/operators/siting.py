"""Where the skeleton stands, what is under its feet, and what acts on it there."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import bpy

from ..bridge.calculations import measure_wind
from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import KeptDocument, keep_document, text_path, write_text
from ..bridge.long_work import Calculation
from ..bridge.records import note_overrides
from ..bridge.siting import element_in_hand, find_cursor
from ..bridge.wind import find_outlines, keep_shown
from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.site.actions import DEFAULT_N, Factors, Footing, Wind
from ..core_calcs.spatial.errors import SiteError
from ..core_calcs.studies.acting import Outlines, Shown
from ..core_calcs.studies.site_by_hand import (
    add_action,
    change_site,
    make_action,
    remove_action,
    remove_footing,
    set_footing,
)
from .long_step import LongStep
from .meshes import require_same
from .quantities import ask_length, read_decimal, unit_scale
from .step import AS_GIVEN, NeedsRig, NeedsSkeleton

KINDS = [
    ("push", "Push", "A force by hand: level, whichever way is worst, or along a direction"),
    ("pull", "Pull", "The same, pulling: at a rope for one"),
    ("person", "Person", "Somebody's weight, straight down"),
]
USUAL = Factors()


def ask_number(name: str, description: str, default: float, most: float = 1e9) -> Any:
    """A property for a plain number, not below 0."""
    return bpy.props.FloatProperty(
        name=name, description=description, default=default, min=0.0, max=most, precision=3, step=1, options=AS_GIVEN
    )


def ask_whether(name: str, description: str) -> Any:
    """A property for yes or no."""
    return bpy.props.BoolProperty(name=name, description=description, options=AS_GIVEN)


def write_site(context: bpy.types.Context, before: SkeletonDocument, after: SkeletonDocument) -> None:
    """Keep the changed document, with a record where factors were changed."""
    write_text(context.scene.counterpoise.document, note_overrides(context.scene, before, after))


class SiteDialog(NeedsSkeleton):
    """Mixed into an operator that asks: shows `fields`, each behind the switch that it needs, by its name."""

    fields: tuple[tuple[str, str], ...] = ()
    width = 300

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        self.take(keep_document(context.scene), unit_scale(context))
        return context.window_manager.invoke_props_dialog(self, title=self.title(), width=self.width)

    def title(self) -> str:
        """What stands over the dialog."""
        return str(self.bl_label)

    def take(self, kept: KeptDocument, metres: float) -> None:
        raise NotImplementedError

    def draw(self, _context: bpy.types.Context) -> None:
        self.layout.use_property_split, self.layout.use_property_decorate = True, False
        for name, switch in self.fields:
            row = self.layout.row()
            row.enabled = not switch or bool(getattr(self, switch))
            row.prop(self, name)


class COUNTERPOISE_OT_set_site(SiteDialog, bpy.types.Operator):
    """Say where the ground is, and how much friction it offers"""

    bl_idname = "counterpoise.set_site"
    bl_label = "Set Ground"
    fields = (("ground", ""), ("friction_known", ""), ("friction", "friction_known"), ("reserve", ""))

    ground: bpy.props.FloatProperty(
        name="Ground", description="Height of the ground in the world", unit="LENGTH", options=AS_GIVEN
    )
    friction_known: ask_whether("Friction Known", "Without it sliding is not known")
    friction: ask_number("Friction", "Coefficient under every foot whose footing names none", 0.0, 10.0)
    reserve: ask_length("Reserve", "A distance margin below this is close")

    def take(self, kept: KeptDocument, metres: float) -> None:
        site = kept.document.site
        self.ground, self.reserve = site.ground_m / metres, site.reserve_m / metres
        self.friction_known, self.friction = site.friction is not None, site.friction or 0.0

    def work(self, context: bpy.types.Context) -> str:
        document, metres, given = keep_document(context.scene).document, unit_scale(context), self.properties
        changes: dict[str, Any] = {}
        if given.is_property_set("ground"):
            changes["ground_m"] = read_decimal(self.ground) * metres
        if given.is_property_set("reserve"):
            changes["reserve_m"] = read_decimal(self.reserve) * metres
        if given.is_property_set("friction_known") or given.is_property_set("friction"):
            known = self.friction_known or not given.is_property_set("friction_known")
            changes["friction"] = read_decimal(self.friction) if known else None
        write_site(context, document, change_site(document, **changes))
        return "Ground set"


class COUNTERPOISE_OT_set_wind(SiteDialog, bpy.types.Operator):
    """Say with what pressure the wind meets the silhouette of everything, from every direction in turn"""

    bl_idname = "counterpoise.set_wind"
    bl_label = "Set Wind"
    fields = (("acts", ""), ("pressure", "acts"), ("coefficient", "acts"), ("directions", ""))

    acts: bpy.props.BoolProperty(
        name="Wind Acts", description="Whether any is reckoned with", default=True, options=AS_GIVEN
    )
    pressure: ask_number("Pressure, Pa", "Characteristic peak velocity pressure, one for the whole height", 800.0)
    coefficient: ask_number(
        "Force Coefficient", "Of the silhouette: 1.2 for rough round members, 2 for plates (from memory)", 1.2, 100.0
    )
    directions: bpy.props.IntProperty(
        name="Directions",
        description="So many all round, for wind and for pushes that are worst somewhere",
        default=36,
        min=4,
        max=360,
        options=AS_GIVEN,
    )

    def take(self, kept: KeptDocument, _metres: float) -> None:
        site = kept.document.site
        self.directions = site.directions
        if site.wind is not None:
            self.pressure, self.coefficient = site.wind.pressure_Pa, site.wind.force_coefficient

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        wind = Wind(read_decimal(self.pressure), read_decimal(self.coefficient)) if self.acts else None
        changes: dict[str, Any] = {"wind": wind}
        if self.properties.is_property_set("directions"):
            changes["directions"] = self.directions
        write_site(context, document, change_site(document, **changes))
        return "No wind" if wind is None else f"Wind of {wind.pressure_Pa:g} Pa"


class COUNTERPOISE_OT_measure_wind(NeedsRig, LongStep, bpy.types.Operator):
    """Measure what the live pose and the saved ones show to the wind, from the elements' files: it counts in them"""

    bl_idname = "counterpoise.measure_wind"
    bl_label = "Measure Silhouettes"

    def prepare(self, context: bpy.types.Context) -> Calculation:
        kept = keep_document(context.scene)
        if kept.document.site.wind is None:
            raise SiteError("wind", "none is set", "set it first")
        self.digest, self.poses = kept.digest, (read_scene_pose(context, kept), *kept.document.poses)
        folder = locate_mesh_folder(kept.document, text_path(context.scene.counterpoise.document))
        directions = kept.document.site.directions
        return partial(measure_wind, kept.document.skeleton, folder, self.poses, directions, find_outlines())

    def finish(self, context: bpy.types.Context, found: tuple[Outlines, tuple[Shown, ...]]) -> str:
        require_same(context, self.digest)
        outlines, shown = found
        keep_shown(keep_document(context.scene), self.poses, shown, outlines)
        return f"Silhouettes of {len(shown)} poses measured"


class COUNTERPOISE_OT_set_factors(SiteDialog, bpy.types.Operator):
    """Change the partial factors of static equilibrium (EN 1990, EQU): what is changed is recorded"""

    bl_idname = "counterpoise.set_factors"
    bl_label = "Set Factors"
    fields = tuple((name, "") for name in vars(USUAL))

    permanent_against: ask_number("Permanent, Against", "On the weight that overturns", USUAL.permanent_against, 100.0)
    permanent_for: ask_number("Permanent, For", "On the weight that holds", USUAL.permanent_for, 100.0)
    variable_against: ask_number("Variable, Against", "On every action that overturns", USUAL.variable_against, 100.0)
    accompanying: ask_number(
        "Accompanying", "Share of every variable action but the leading one", USUAL.accompanying, 1.0
    )
    resistance: ask_number("Resistance", "Friction and anchors are divided by it", USUAL.resistance, 100.0)

    def take(self, kept: KeptDocument, _metres: float) -> None:
        for name, value in vars(kept.document.site.factors).items():
            setattr(self, name, value)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        given = [name for name in vars(USUAL) if self.properties.is_property_set(name)]
        factors = replace(document.site.factors, **{name: read_decimal(getattr(self, name)) for name in given})
        write_site(context, document, change_site(document, factors=factors))
        return "Usual factors" if factors == USUAL else "Factors changed"


class COUNTERPOISE_OT_set_footing(SiteDialog, bpy.types.Operator):
    """Say what is under this foot: another height, its own stiffness or friction, anchors"""

    bl_idname = "counterpoise.set_footing"
    bl_label = "Set Footing"
    fields = (
        *(("height", ""), ("stiffness_known", ""), ("stiffness", "stiffness_known"), ("friction_known", "")),
        *(("friction", "friction_known"), ("anchored", ""), ("anchor_known", "anchored"), ("anchor", "anchor_known")),
    )

    foot: bpy.props.StringProperty(name="Foot", description="Name of a foot or contact", options=AS_GIVEN)
    height: bpy.props.FloatProperty(
        name="Height", description="Of the ground under it, above the site's", unit="LENGTH", options=AS_GIVEN
    )
    stiffness_known: ask_whether("Own Stiffness", "Else as stiff as every other foot")
    stiffness: ask_number("Stiffness, kN/mm", "Of the foot and what is under it, vertically", 10.0)
    friction_known: ask_whether("Own Friction", "Else the site's")
    friction: ask_number("Friction", "Coefficient under this foot alone", 0.0, 10.0)
    anchored: ask_whether("Anchored", "It can be pulled at")
    anchor_known: ask_whether("Tension Known", "How much its anchors hold")
    anchor: ask_number("Tension, kN", "Characteristic tension that its anchors hold", 10.0)

    def title(self) -> str:
        return f"Footing of {self.foot}"

    def take(self, kept: KeptDocument, metres: float) -> None:
        said = {footing.foot: footing for footing in kept.document.site.footings}
        own = said.get(self.foot, Footing(self.foot))
        self.height = own.height_m / metres
        self.stiffness_known, self.friction_known = own.stiffness_N_m is not None, own.friction is not None
        self.anchored, self.anchor_known = own.anchored, own.anchor_N is not None
        self.stiffness = 10.0 if own.stiffness_N_m is None else own.stiffness_N_m / 1e6
        self.friction = own.friction or 0.0
        self.anchor = 10.0 if own.anchor_N is None else own.anchor_N / 1000

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        footing = Footing(
            self.foot,
            read_decimal(self.height) * unit_scale(context),
            read_decimal(self.stiffness) * 1e6 if self.stiffness_known else None,
            read_decimal(self.friction) if self.friction_known else None,
            self.anchored,
            read_decimal(self.anchor) * 1000 if self.anchored and self.anchor_known else None,
        )
        write_site(context, document, set_footing(document, footing))
        return f"Footing of {self.foot} set"


class COUNTERPOISE_OT_remove_footing(NeedsSkeleton, bpy.types.Operator):
    """Take back what was said of this foot: level ground, as stiff as every other, held by friction alone"""

    bl_idname = "counterpoise.remove_footing"
    bl_label = "Remove Footing"

    foot: bpy.props.StringProperty(name="Foot", description="Name of a foot or contact", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        write_site(context, document, remove_footing(document, self.foot))
        return f"{self.foot} stands on level ground"


class COUNTERPOISE_OT_add_action(NeedsRig, bpy.types.Operator):
    """Let somebody push, pull or climb at the 3-D cursor, on the active element: it goes with it into every pose"""

    bl_idname = "counterpoise.add_action"
    bl_label = "Add Action at Cursor"

    kind: bpy.props.EnumProperty(name="Kind", description="What acts", items=KINDS, options=AS_GIVEN)
    force: ask_number("Force, kN", "0: as usual, 1.5 for a push or pull, 2 for a person (common practice)", 0.0)
    directed: ask_whether("Along a Direction", "Else level, whichever way is worst")
    direction: bpy.props.FloatVectorProperty(
        name="Direction", description="In the world, of any length", size=3, default=(0, 0, -1), options=AS_GIVEN
    )
    name: bpy.props.StringProperty(
        name="Name", description="Of the action; empty: after kind and element", options=AS_GIVEN
    )

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        select = "Select the element that it acts on, or its bone in pose mode, and put the 3-D cursor on it"
        return super().name_lack(context) or ("" if element_in_hand(context) else select)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return context.window_manager.invoke_props_dialog(self, title=f"Action on {element_in_hand(context)}")

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split, layout.use_property_decorate = True, False
        layout.row().prop(self, "kind", expand=True)
        layout.prop(self, "force")
        if self.kind != "person":
            layout.prop(self, "directed")
            column = layout.column()
            column.enabled = self.directed
            column.prop(self, "direction")
        layout.prop(self, "name")
        usual = f"{DEFAULT_N[self.kind] / 1000:g} kN"
        layout.label(text=f"Force 0 means {usual}: common practice, no source.", icon="INFO")

    def work(self, context: bpy.types.Context) -> str:
        kept, element = keep_document(context.scene), element_in_hand(context)
        point = find_cursor(context, kept, element)
        directed = self.kind != "person" and (self.directed or self.properties.is_property_set("direction"))
        directed = directed and (self.directed or not self.properties.is_property_set("directed"))
        direction = [read_decimal(value) for value in self.direction] if directed else None
        force = read_decimal(self.force) * 1000 or None
        made = make_action(kept.document, self.kind, element, point, force, direction, self.name)
        write_site(context, kept.document, add_action(kept.document, made))
        return f"{made.name}: {made.force_N / 1000:g} kN"


class COUNTERPOISE_OT_remove_action(NeedsSkeleton, bpy.types.Operator):
    """Take this action out"""

    bl_idname = "counterpoise.remove_action"
    bl_label = "Remove Action"

    name: bpy.props.StringProperty(name="Action", description="Its name", options=AS_GIVEN)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        write_site(context, document, remove_action(document, self.name))
        return f"{self.name} no longer acts"


CLASSES = (
    COUNTERPOISE_OT_set_site,
    COUNTERPOISE_OT_set_wind,
    COUNTERPOISE_OT_measure_wind,
    COUNTERPOISE_OT_set_factors,
    COUNTERPOISE_OT_set_footing,
    COUNTERPOISE_OT_remove_footing,
    COUNTERPOISE_OT_add_action,
    COUNTERPOISE_OT_remove_action,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
