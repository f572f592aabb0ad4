"""Where the skeleton stands: ground, friction, wind and partial factors."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import bpy

from ..bridge.calculations import measure_wind
from ..bridge.figures import read_scene_pose
from ..bridge.kept_document import KeptDocument, keep_document, text_path
from ..bridge.long_work import Calculation
from ..bridge.wind import find_outlines, keep_shown
from ..core_calcs.document.meshes import locate_mesh_folder
from ..core_calcs.site.actions import Factors, Wind
from ..core_calcs.spatial.errors import SiteError
from ..core_calcs.studies.acting import Outlines, Shown
from ..core_calcs.studies.site_by_hand import change_site
from ..translations.phrases import say
from .long_step import LongStep
from .meshes import require_same
from .quantities import ask_length, read_decimal, unit_scale
from .site_dialog import SiteDialog, ask_number, ask_whether, write_site
from .step import AS_GIVEN, NeedsRig

USUAL = Factors()


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
    reserve: ask_length("Least Margin", "A margin against tipping smaller than this counts as close")

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
        name="Wind Acts", description="Whether wind is taken into account", default=True, options=AS_GIVEN
    )
    pressure: ask_number("Pressure, Pa", "Characteristic peak velocity pressure, one for the whole height", 800.0)
    coefficient: ask_number(
        "Force Coefficient", "Of the silhouette: 1.2 for rough round members, 2 for plates (from memory)", 1.2, 100.0
    )
    directions: bpy.props.IntProperty(
        name="Directions",
        description="How many, evenly all round, are tried for wind and for pushes and pulls in the worst direction",
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
        if wind is None:
            return "No wind"
        return say("Wind of {pressure}", pressure=f"{wind.pressure_Pa:g} Pa")


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
        return say("Silhouettes of {count} poses measured", count=len(shown))


class COUNTERPOISE_OT_set_factors(SiteDialog, bpy.types.Operator):
    """Change the partial factors of static equilibrium and of strength (EN 1990, EQU, STR): changes are recorded"""

    bl_idname = "counterpoise.set_factors"
    bl_label = "Set Factors"
    fields = tuple((name, "") for name in vars(USUAL))
    width = 420

    permanent_against: ask_number(
        "Permanent, Unfavourable", "On the weight that overturns (EQU)", USUAL.permanent_against, 100.0
    )
    permanent_for: ask_number("Permanent, Favourable", "On the weight that holds (EQU)", USUAL.permanent_for, 100.0)
    variable_against: ask_number(
        "Variable, Unfavourable", "On every action that overturns (EQU)", USUAL.variable_against, 100.0
    )
    accompanying: ask_number(
        "Combination ψ₀", "Share of every variable action that accompanies the leading one", USUAL.accompanying, 1.0
    )
    resistance: ask_number("Resistance", "Friction and anchors are divided by it", USUAL.resistance, 100.0)
    strength_against: ask_number(
        "STR Permanent, Unfavourable",
        "At joints, on self-weight where it adds to the internal force (STR)",
        USUAL.strength_against,
        100.0,
    )
    strength_for: ask_number(
        "STR Permanent, Favourable", "At joints, on self-weight where it relieves (STR)", USUAL.strength_for, 100.0
    )
    strength_variable: ask_number(
        "STR Variable, Unfavourable",
        "At joints, on every variable action that adds to the internal force (STR)",
        USUAL.strength_variable,
        100.0,
    )
    reduction: ask_number(
        "Reduction ξ",
        "On self-weight in expression (6.10b) of EN 1990, .85 there; 1: expression (6.10) is used",
        USUAL.reduction,
        1.0,
    )

    def take(self, kept: KeptDocument, _metres: float) -> None:
        for name, value in vars(kept.document.site.factors).items():
            setattr(self, name, value)

    def work(self, context: bpy.types.Context) -> str:
        document = keep_document(context.scene).document
        given = [name for name in vars(USUAL) if self.properties.is_property_set(name)]
        factors = replace(document.site.factors, **{name: read_decimal(getattr(self, name)) for name in given})
        write_site(context, document, change_site(document, factors=factors))
        return "Partial factors are the usual ones" if factors == USUAL else "Partial factors changed"


CLASSES = (
    COUNTERPOISE_OT_set_site,
    COUNTERPOISE_OT_set_wind,
    COUNTERPOISE_OT_measure_wind,
    COUNTERPOISE_OT_set_factors,
)
register, unregister = bpy.utils.register_classes_factory(CLASSES)
