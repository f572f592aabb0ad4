"""What the report says of a skeleton in sentences: surfaces, what is left out, straddling, discs, limits, facets."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from statistics import median

from ..skeleton.tree import Skeleton
from ..studies.disc_thickness import describe_growth, list_discs
from .phrases import list_names
from .quantities import format_fixed, format_quantity, format_setting


def describe_surfaces(skeleton: Skeleton) -> str:
    """How many elements have which mesh state, and where they come from."""
    states = Counter(state for element in skeleton.elements for state in element.solid.states)
    origins = Counter(element.origin for element in skeleton.elements)
    made = [f"{own.name} ({own.origin} of {own.made_from})" for own in skeleton.elements if own.made_from]
    return (
        f"Mesh states: {_list_counts(states.most_common())}. "
        f"Origin of the elements: {_list_counts([(_ORIGINS.get(o, o), n) for o, n in origins.most_common()])}."
        + (f" Made here of others, and not found: {', '.join(made)}." if made else "")
    )


_ORIGINS = {"not known": "origin not known"}


def _list_counts(counts: Sequence[tuple[str, int]]) -> str:
    return ", ".join(f"{name} {number}" for name, number in counts)


def describe_left_out(skeleton: Skeleton) -> tuple[str, ...]:
    """What is not part of the skeleton, a sentence for each reason."""
    by_reason: dict[str, list[str]] = {}
    for item in skeleton.left_out:
        body = "" if item.body is None else f" (body {item.body})"
        by_reason.setdefault(item.reason or "no reason given", []).append(f"{item.file}{body}")
    return tuple(f"Left out ({reason}): {list_names(files)}." for reason, files in by_reason.items())


def describe_straddling(skeleton: Skeleton) -> tuple[str, ...]:
    """Which elements follow two others, and where their load goes."""
    names = [joint.child for joint in skeleton.joints if joint.also is not None]
    if not names:
        return ()
    if len(names) == 1:
        told = "stands halfway between two others; its whole load"
    else:
        told = "stand halfway between two others each; the whole load of each"
    return (f"{list_names(names)} {told} is given to the first of them, though both may share it.",)


def describe_discs(skeleton: Skeleton) -> tuple[str, ...]:
    """Which discs are as thick as the user said at neutral, with the reasons, and how thick the others are."""
    discs = list_discs(skeleton)
    told: dict[tuple[str, str], list[str]] = {}
    for disc in discs:
        if disc.is_set:
            told.setdefault((f"{1000 * disc.thickness_m:.1f}", disc.reason), []).append(disc.child)
    sentences = [
        f"The disc of {list_names(names)} is {thick} mm thick at neutral, as set: {reason}."
        if len(names) == 1
        else f"The discs of {list_names(names)} are {thick} mm thick at neutral, as set: {reason}."
        for (thick, reason), names in told.items()
    ]
    scanned = [disc.thickness_m for disc in discs if not disc.is_set]
    if told:
        sentences.append(describe_growth(discs))
    if scanned:
        middle = format_quantity(median(scanned), "m")
        sentences.append(
            f"In {len(scanned)} joints the disc is taken to be as thick as the scanned gap, {middle} (median)."
        )
    return tuple(sentences)


def describe_limits(skeleton: Skeleton) -> tuple[str, ...]:
    """The settings that the limits were computed with, once for each set of settings in use."""
    used = Counter(joint.settings for joint in skeleton.joints if joint.moves and joint.settings)
    sentences = []
    for s, count in used.most_common():
        contact, slide, gap = (
            format_setting(100 * x, "%") for x in (s.contact_share_s, s.slide_share_s, s.gap_share_s)
        )
        sentences.append(
            f"{count} joints: facet overlap at least {format_setting(100 * s.overlap_share, '%')}; contact up to "
            f"{contact}, sliding up to {slide}, gap up to {gap} more than in the neutral articulation, each of the "
            "element's size (cube root of its volume); searched to "
            f"{format_fixed(math.degrees(s.search_rad), 0)}°."
        )
    by_hand = sum(joint.moves and joint.settings is None and joint.limits is not None for joint in skeleton.joints)
    without = sum(joint.moves and joint.limits is None for joint in skeleton.joints)
    if by_hand:
        sentences.append(f"{by_hand} joints have limits set by hand.")
    if without:
        sentences.append(f"The limits of {without} joints that move are not known.")
    return tuple(sentences)


def describe_facets(skeleton: Skeleton) -> tuple[str, ...]:
    """What surfaces the facets lie on, how nearly, and which of them are in doubt."""
    facets = [facet for joint in skeleton.joints for facet in joint.facets]
    surfaces = [facet.surface for facet in facets if facet.surface is not None]
    if not facets:
        return ()
    sentences = []
    if surfaces:
        shapes = Counter(surface.shape for surface in surfaces)
        told = ", ".join(f"{count} on a {shape}" for shape, count in shapes.most_common())
        off = format_quantity(median(surface.residual_m for surface in surfaces), "m")
        sentences.append(f"{len(facets)} facets are known: {told}, their points {off} off it (median).")
    unsure = list(dict.fromkeys(facet.element for facet in facets if facet.confidence == "ambiguous"))
    if unsure:
        sentences.append(f"Facets of {list_names(unsure)} are in doubt; the document says why.")
    return tuple(sentences)
