"""How a tree of an older version becomes one of this version, a step a version."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..spatial.errors import DocumentError
from .document import SCHEMA_VERSION

Migration = Callable[[dict[str, Any]], dict[str, Any]]
_DIGITS = 12
"""Of lengths in metres, behind the point: a picometre, as `spatial.transforms.round_places`."""


def _add_castings(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 1, where every element was a solid casting, scaled without uncertainty and never weighed."""
    solid = {"kind": "solid", "wall_m": 0.005, "wall_doubt_m": 0.001, "struts_share": 0.0}
    nothing: dict[str, Any] = {"series_castings": [], "element_castings": [], "weighings": []}
    build = tree["build"] | {"casting": solid} | nothing | {"scale_doubt_share": 0.0}
    elements = [element | {"voids": []} for element in tree["skeleton"]["elements"]]
    return tree | {"skeleton": tree["skeleton"] | {"elements": elements}, "build": build}


def _add_idle_feet(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 2, where every foot was proposed, and whatever touched the ground bore."""
    feet = [foot | {"origin": "proposed"} for foot in tree["skeleton"]["feet"]]
    poses = [pose | {"idle_feet": []} for pose in tree["poses"]]
    return tree | {"skeleton": tree["skeleton"] | {"feet": feet}, "poses": poses}


def _add_parts(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 3, where all castings were of one material, struts without uncertainty, nothing else with a mass."""
    build = tree["build"]

    def widen(own: dict[str, Any]) -> dict[str, Any]:
        return own | {"casting": own["casting"] | {"struts_doubt_share": 0.0, "material": None}}

    named = {key: [widen(own) for own in build[key]] for key in ("series_castings", "element_castings")}
    return tree | {"build": widen(build) | named | {"discs": [], "steelwork": []}}


def _add_fits(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 4, where no joint of a limb was looked for."""
    joints = [joint | {"fit": None, "marks": []} for joint in tree["skeleton"]["joints"]]
    return tree | {"skeleton": tree["skeleton"] | {"joints": joints}}


def _add_placings(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 5, where every element stood as it was scanned."""
    joints = [joint | {"placing": None} for joint in tree["skeleton"]["joints"]]
    return tree | {"skeleton": tree["skeleton"] | {"joints": joints}}


def _add_pits(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 6, where nobody had asked what holes and pits do to a void."""
    unknown = {"holes_error_m3": None, "pits_m3": None}
    skeleton = tree["skeleton"]
    elements = [own | {"voids": [unknown | void for void in own["voids"]]} for own in skeleton["elements"]]
    return tree | {"skeleton": skeleton | {"elements": elements}}


def _add_seconds(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 7, where every fixed element followed its parent alone."""
    joints = [joint | {"also": None} for joint in tree["skeleton"]["joints"]]
    return tree | {"skeleton": tree["skeleton"] | {"joints": joints}}


def _add_table_seconds(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 8, where no element table named what an element follows besides its parent: all was set by hand."""
    joints = [joint | {"also_in_table": None} for joint in tree["skeleton"]["joints"]]
    return tree | {"skeleton": tree["skeleton"] | {"joints": joints}}


def _add_clearance(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 9, where nothing was said of how deep elements may run into each other."""
    return tree | {"site": tree["site"] | {"clearance_share_s": 0.02}}


def _add_envelopes(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 10, where every joint had its six limits alone."""
    joints = [joint | {"envelope": None} for joint in tree["skeleton"]["joints"]]
    return tree | {"skeleton": tree["skeleton"] | {"joints": joints}}


def _add_facet_surfaces(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 11, where facets had neither outline nor surface, and were as sure as their joint."""
    joints = []
    for joint in tree["skeleton"]["joints"]:
        told = {"outline_m": None, "surface": None, "how": "", "confidence": joint["confidence"]}
        joints.append(joint | {"facets": [facet | told for facet in joint["facets"]]})
    return tree | {"skeleton": tree["skeleton"] | {"joints": joints}}


def _add_frame_uncertainties(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 12, where the standard errors of a limb's joint stood with its fit and others had none."""
    joints = []
    for joint in tree["skeleton"]["joints"]:
        fit, doubt = joint["fit"], None
        if fit is not None:
            moved = ("centre_doubt_m", "axis_doubt_rad")
            doubt = {"centre_m": fit[moved[0]], "axes_rad": fit[moved[1]], "rests_on": f"the facet of {fit['element']}"}
            fit = {key: value for key, value in fit.items() if key not in moved}
        joints.append(joint | {"fit": fit, "frame_doubt": doubt})
    return tree | {"skeleton": tree["skeleton"] | {"joints": joints}}


def _add_disc_thickness(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 13, where every gap was as scanned, places had more digits than a picometre, and what discs in the
    joints had taken from a gap was a number of their own.
    """
    skeleton, build = tree["skeleton"], tree["build"]
    joints = [_settle(joint) | {"disc": None} for joint in skeleton["joints"]]
    gaps = {joint["child"]: [own["gap_m"] for own in joint["facets"] if own["kind"] == "centrum"] for joint in joints}
    discs = [_follow_gap(disc, gaps.get(disc["child"], [])) for disc in build["discs"]]
    return tree | {"skeleton": skeleton | {"joints": joints}, "build": build | {"discs": discs}}


def _settle(joint: dict[str, Any]) -> dict[str, Any]:
    """A joint's places and gaps to a picometre."""

    def settle(value: Any) -> Any:
        return [settle(own) for own in value] if isinstance(value, list) else round(value, _DIGITS) + 0.0

    facets = [
        facet
        | {key: settle(facet[key]) for key in ("centroid_m", "gap_m")}
        | {"outline_m": None if facet["outline_m"] is None else settle(facet["outline_m"])}
        for facet in joint["facets"]
    ]
    limits = joint["limits"] and [
        {
            end: stop | {"place_m": None if stop["place_m"] is None else settle(stop["place_m"])}
            for end, stop in limit.items()
        }
        for limit in joint["limits"]
    ]
    X_WJ = [[*row[:3], settle(row[3])] for row in joint["X_WJ"][:3]] + joint["X_WJ"][3:]
    return joint | {"facets": facets, "limits": limits, "X_WJ": X_WJ}


def _follow_gap(disc: dict[str, Any], gaps: list[float]) -> dict[str, Any]:
    """A disc of the build that is as thick as the gap follows it, with its uncertainty."""
    thickness, doubt = disc["thickness_m"], disc["thickness_doubt_m"]
    if not gaps or abs(thickness - sum(gaps) / len(gaps)) > 10**-_DIGITS:
        return disc
    follows = abs(doubt - 0.2 * thickness) <= 10**-_DIGITS
    return disc | {"thickness_m": None, "thickness_doubt_m": None if follows else doubt}


def _add_mark_kinds(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 14, where marks were of limb joints, or taken for that."""
    joints = [
        joint | {"marks": [mark | {"kind": "articular surface"} for mark in joint["marks"]]}
        for joint in tree["skeleton"]["joints"]
    ]
    return tree | {"skeleton": tree["skeleton"] | {"joints": joints}}


def _add_records(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 15, where nothing was recorded, every pose was one of joint angles, no bone was made here."""
    skeleton, poses = tree["skeleton"], [pose | {"mounted": {}} for pose in tree["poses"]]
    elements = [element | {"made_from": ""} for element in skeleton["elements"]]
    return tree | {"skeleton": skeleton | {"elements": elements}, "poses": poses, "records": []}


def _add_actions(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 16, where nothing but the weight acted, on level ground that nobody had spoken of."""
    factors = {
        "permanent_against": 1.1,
        "permanent_for": 0.9,
        "variable_against": 1.5,
        "accompanying": 0.7,
        "resistance": 1.0,
    }
    nothing: dict[str, Any] = {"friction": None, "footings": [], "actions": [], "wind": None, "directions": 36}
    return tree | {"site": nothing | {"factors": factors} | tree["site"]}


def _lift_datum(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 17, where base moments were taken about a point on the ground."""
    site = tree["site"]
    datum = None if site["datum_m"] is None else [*site["datum_m"][:2], site["ground_m"]]
    return tree | {"site": site | {"datum_m": datum}}


def _add_strength(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 18, where partial factors were those of static equilibrium alone."""
    site = tree["site"]
    strength = {"strength_against": 1.35, "strength_for": 1.0, "strength_variable": 1.5, "reduction": 1.0}
    return tree | {"site": site | {"factors": site["factors"] | strength}}


def _name_uncertainties(tree: dict[str, Any]) -> dict[str, Any]:
    """From version 19, where uncertainties were called doubts."""
    skeleton, build = tree["skeleton"], _rename(tree["build"])
    named = {
        key: [own | {"casting": _rename_casting(own["casting"])} for own in build[key]]
        for key in ("series_castings", "element_castings")
    }
    build |= named | {
        "material": _rename(build["material"]),
        "casting": _rename_casting(build["casting"]),
        "weighings": [_rename(own) for own in build["weighings"]],
        "discs": [_rename(own) | {"material": _rename(own["material"])} for own in build["discs"]],
        "steelwork": [_rename(own) for own in build["steelwork"]],
    }
    joints = [_rename(joint) for joint in skeleton["joints"]]
    return tree | {"skeleton": skeleton | {"joints": joints}, "build": build}


def _rename_casting(casting: dict[str, Any]) -> dict[str, Any]:
    material = casting["material"]
    return _rename(casting) | {"material": None if material is None else _rename(material)}


def _rename(own: dict[str, Any]) -> dict[str, Any]:
    """The same values with the names of version 20, each in its place."""
    return {key.replace("doubt", "uncertainty"): value for key, value in own.items()}


MIGRATIONS: dict[int, Migration] = {
    1: _add_castings,
    2: _add_idle_feet,
    3: _add_parts,
    4: _add_fits,
    5: _add_placings,
    6: _add_pits,
    7: _add_seconds,
    8: _add_table_seconds,
    9: _add_clearance,
    10: _add_envelopes,
    11: _add_facet_surfaces,
    12: _add_frame_uncertainties,
    13: _add_disc_thickness,
    14: _add_mark_kinds,
    15: _add_records,
    16: _add_actions,
    17: _lift_datum,
    18: _add_strength,
    19: _name_uncertainties,
}
"""By version: the step from a tree of that version, without `schema` and `version`, to the next version's."""


def migrate(tree: dict[str, Any], version: int, where: str) -> dict[str, Any]:
    """Bring a tree of a known older version to this one.

    Raises
    ------
    DocumentError : the version is newer than this program's, or there is no step from it, or it is damaged
    """
    if version > SCHEMA_VERSION:
        raise DocumentError(
            where,
            f"it is of version {version}; this program knows versions up to {SCHEMA_VERSION}",
            "open it with a newer Counterpoise",
        )
    for step in range(version, SCHEMA_VERSION):
        if step not in MIGRATIONS:
            raise DocumentError(
                where,
                f"it is of version {version}, and there is no way from version {step} to {step + 1}",
                f"check its first lines: this program writes version {SCHEMA_VERSION}",
            )
        try:
            tree = MIGRATIONS[step](tree)
        except (LookupError, TypeError, ValueError, AttributeError) as error:
            what = f"it is damaged: it says version {version}, but does not hold what that version holds"
            raise DocumentError(where, what, "give a whole skeleton document") from error
    return tree
