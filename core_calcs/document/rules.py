"""What the types of the values do not say by themselves: shapes of arrays, ranges of numbers, forms of texts.

The reader and the published schema both follow this one table.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..build.build import Build, Casting, Disc, ElementCasting, Material, Steelwork, Weighing
from ..site.actions import Factors, Footing, PointAction, Wind
from ..site.site import Site
from ..skeleton.element import Element, Solid, Source, Void
from ..skeleton.joint import (
    DiscThickness,
    Envelope,
    Facet,
    FacetMark,
    FacetSurface,
    FrameUncertainty,
    Joint,
    JointFit,
    LimitSettings,
    Placing,
    Stop,
)
from ..skeleton.pose import Pose
from ..skeleton.tree import Contact, Foot, LeftOut, Skeleton
from .document import SkeletonDocument
from .record import Record


@dataclass(frozen=True)
class ArrayRule:
    """An array of float64, row by row.

    shape : None stands for one or more
    optional : null is allowed and means not known, or none
    rigid : (4, 4) and a proper rigid transform
    """

    shape: tuple[int | None, ...]
    optional: bool = False
    rigid: bool = False


@dataclass(frozen=True)
class ArraysRule:
    """Arrays of one form, each by a name; meaning: what is expected, in words."""

    each: ArrayRule
    meaning: str


@dataclass(frozen=True)
class TextRule:
    """A text of one form: `pattern` in the common part of Python's and ECMA-262's regular expressions."""

    pattern: str
    meaning: str


@dataclass(frozen=True)
class NumberRule:
    """A number, at least `least`, or greater than `above`, and at most `most`."""

    least: int | None = None
    above: int | None = None
    most: int | None = None


Rule = ArrayRule | ArraysRule | TextRule | NumberRule

_PART = r"[^/\\\u0000-\u001f]+"
_NAMED_PART = rf"(?!\.\.?(?:/|$)){_PART}"
NAME = TextRule(r"^[^\u0000-\u001f]+$", "a text of one line that is not empty")
FILE = TextRule(
    rf"^(?![A-Za-z]:){_NAMED_PART}(?:/{_NAMED_PART})*$",
    "a path inside the mesh folder with forward slashes, without drive letter, backslash, `.` or `..`",
)
FOLDER = TextRule(
    rf"^(?![A-Za-z]:){_PART}(?:/{_PART})*$",
    "a path relative to the document with forward slashes, without drive letter or backslash",
)
FACES = TextRule(r"^\d+(?:-\d+)?(?:, \d+(?:-\d+)?)*$", "numbers and ranges of faces such as 0-17, 25, 40-99")
WHEN = TextRule(r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$", "a time in UTC such as 2026-11-27T03:10:00Z")
SHA256 = TextRule(r"^[0-9a-f]{64}$", "a SHA-256 of 64 small hexadecimal digits")

_POINT, _MATRIX = ArrayRule((3,)), ArrayRule((3, 3))
_TRANSFORM = ArrayRule((4, 4), rigid=True)
_COUNT, _PLACE, _LENGTH = NumberRule(least=0), NumberRule(least=1), NumberRule(least=0)

RULES: dict[tuple[type[Any], str], Rule] = {
    (Source, "file"): FILE,
    (Source, "body"): _PLACE,
    (Source, "unit_m"): NumberRule(above=0),
    (Source, "sha256"): SHA256,
    (Solid, "volume_error_m3"): NumberRule(least=0),
    (Solid, "centre_m"): _POINT,
    (Solid, "inertia_m5"): _MATRIX,
    (Solid, "lower_m"): _POINT,
    (Solid, "upper_m"): _POINT,
    (Solid, "triangles"): _COUNT,
    (Void, "wall_m"): NumberRule(above=0),
    (Void, "volume_m3"): NumberRule(least=0),
    (Void, "volume_error_m3"): NumberRule(least=0),
    (Void, "centre_m"): _POINT,
    (Void, "inertia_m5"): _MATRIX,
    (Void, "holes_error_m3"): NumberRule(least=0),
    (Void, "pits_m3"): NumberRule(least=0),
    (Void, "skin_area_m2"): NumberRule(least=0),
    (Void, "skin_centre_m"): _POINT,
    (Element, "name"): NAME,
    (Element, "position"): _PLACE,
    (Element, "X_WE"): _TRANSFORM,
    (Facet, "centroid_m"): _POINT,
    (Facet, "normal"): _POINT,
    (Facet, "area_m2"): NumberRule(least=0),
    (Facet, "outline_m"): ArrayRule((None, 3), optional=True),
    (FacetSurface, "residual_m"): _LENGTH,
    (Stop, "place_m"): ArrayRule((3,), optional=True),
    (LimitSettings, "overlap_share"): NumberRule(least=0),
    (LimitSettings, "contact_share_s"): NumberRule(least=0),
    (LimitSettings, "slide_share_s"): NumberRule(least=0),
    (LimitSettings, "gap_share_s"): NumberRule(least=0),
    (LimitSettings, "search_rad"): NumberRule(above=0),
    (Envelope, "scale_rad"): ArrayRule((3, 2)),
    (Envelope, "shares"): ArrayRule((258,)),
    (FacetMark, "element"): NAME,
    (FacetMark, "faces"): FACES,
    (JointFit, "element"): NAME,
    (JointFit, "residual_m"): _LENGTH,
    (FrameUncertainty, "centre_m"): _LENGTH,
    (FrameUncertainty, "axes_rad"): _LENGTH,
    (JointFit, "partner_opening_share"): NumberRule(least=0),
    (Joint, "X_WJ"): _TRANSFORM,
    (Placing, "X_PE"): _TRANSFORM,
    (DiscThickness, "thickness_m"): _LENGTH,
    (DiscThickness, "shift_m"): _POINT,
    (Contact, "points_m"): ArrayRule((None, 3)),
    (Foot, "name"): NAME,
    (LeftOut, "file"): FILE,
    (LeftOut, "body"): _PLACE,
    (Skeleton, "name"): NAME,
    (Pose, "name"): NAME,
    (Pose, "angles_rad"): ArraysRule(_POINT, "angles by joint"),
    (Pose, "X_WN"): _TRANSFORM,
    (Pose, "mounted"): ArraysRule(_TRANSFORM, "places by element"),
    (Record, "what"): NAME,
    (Record, "when"): WHEN,
    (Record, "before"): ArraysRule(_TRANSFORM, "places by element"),
    (Material, "density_kg_m3"): NumberRule(above=0),
    (Material, "density_uncertainty_kg_m3"): NumberRule(least=0),
    (Casting, "wall_m"): NumberRule(above=0),
    (Casting, "wall_uncertainty_m"): _LENGTH,
    (Casting, "struts_share"): NumberRule(least=0, most=1),
    (Casting, "struts_uncertainty_share"): NumberRule(least=0, most=1),
    (ElementCasting, "element"): NAME,
    (Weighing, "element"): NAME,
    (Weighing, "mass_kg"): NumberRule(above=0),
    (Weighing, "uncertainty_kg"): NumberRule(least=0),
    (Disc, "child"): NAME,
    (Disc, "thickness_m"): NumberRule(above=0),
    (Disc, "thickness_uncertainty_m"): _LENGTH,
    (Disc, "area_m2"): NumberRule(above=0),
    (Disc, "weighed_kg"): NumberRule(above=0),
    (Disc, "weighed_uncertainty_kg"): NumberRule(least=0),
    (Steelwork, "name"): NAME,
    (Steelwork, "start"): NAME,
    (Steelwork, "end"): NAME,
    (Steelwork, "kg_per_m"): NumberRule(above=0),
    (Steelwork, "kg_per_m_uncertainty"): NumberRule(least=0),
    (Steelwork, "length_m"): NumberRule(above=0),
    (Build, "scale_uncertainty_share"): NumberRule(least=0),
    (Site, "contact_tolerance_m"): _LENGTH,
    (Site, "reserve_m"): _LENGTH,
    (Site, "clearance_share_s"): _LENGTH,
    (Site, "friction"): NumberRule(least=0),
    (Site, "directions"): NumberRule(least=4, most=360),
    (PointAction, "name"): NAME,
    (PointAction, "element"): NAME,
    (PointAction, "force_N"): NumberRule(above=0),
    (Wind, "pressure_Pa"): NumberRule(least=0),
    (Wind, "force_coefficient"): NumberRule(above=0),
    (Factors, "permanent_against"): NumberRule(above=0),
    (Factors, "permanent_for"): NumberRule(above=0),
    (Factors, "variable_against"): NumberRule(above=0),
    (Factors, "accompanying"): NumberRule(least=0, most=1),
    (Factors, "resistance"): NumberRule(above=0),
    (Factors, "strength_against"): NumberRule(above=0),
    (Factors, "strength_for"): NumberRule(above=0),
    (Factors, "strength_variable"): NumberRule(above=0),
    (Factors, "reduction"): NumberRule(above=0, most=1),
    (Footing, "foot"): NAME,
    (Footing, "stiffness_N_m"): NumberRule(above=0),
    (Footing, "friction"): NumberRule(least=0),
    (Footing, "anchor_N"): NumberRule(above=0),
    (SkeletonDocument, "mesh_folder"): FOLDER,
}
