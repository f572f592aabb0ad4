"""A short text for the public: what the poses rest on, in plain language, from the document's own figures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

from ..document.document import SkeletonDocument
from ..document.record import Record
from ..skeleton.element import Origin
from ..skeleton.tree import Skeleton
from ..studies.corrections import PUT_RIGHT
from ..studies.disc_thickness import list_discs
from ..studies.ranges import RangeTable
from .interventions import InterventionKind, list_interventions
from .phrases import count_of, join_words, list_some
from .quantities import format_setting

_ORIGINS: dict[Origin, tuple[str, str]] = {
    "scanned": ("was scanned", "were scanned"),
    "mirrored": ("is the mirror image of its partner on the other side", "are mirror images of their partners"),
    "scaled": ("was scaled from a neighbour in the series", "were scaled from neighbours in the series"),
    "sculpted": ("was sculpted", "were sculpted"),
    "composite": ("was put together from several sources", "were put together from several sources"),
    "deformed": ("was scanned from a deformed original", "were scanned from deformed originals"),
    "not known": ("is of unknown origin", "are of unknown origin"),
}

_BY_HAND: dict[InterventionKind, tuple[str, str]] = {
    "placed by hand": ("1 element was moved by hand from where it had been laid out", "{} elements were moved by hand "
                       "from where they had been laid out"),
    "fixed by hand": ("1 joint was fixed by hand", "{} joints were fixed by hand"),
    "facet marked": ("the facets of 1 joint were marked by hand", "the facets of {} joints were marked by hand"),
    "disc set": ("the gap in 1 joint was set otherwise by hand", "the gaps in {} joints were set otherwise by hand"),
    "follows two": ("1 element was hung anew", "{} elements were hung anew"),
}  # fmt: skip
"""Joints set by hand are told with the joints."""


def write_public_text(document: SkeletonDocument, table: RangeTable) -> str:
    """Some 150 to 250 words: a title and paragraphs, an empty line between them."""
    skeleton = document.skeleton
    paragraphs = (
        f"{skeleton.name}: what its poses rest on",
        tell_origins(skeleton),
        _tell_joints(table),
        _tell_limits(skeleton, table),
        _tell_poses(table),
        _tell_corrections(document),
    )
    return "\n\n".join(paragraph for paragraph in paragraphs if paragraph) + "\n"


def tell_origins(skeleton: Skeleton) -> str:
    """How many elements there are, and where they come from."""
    elements = skeleton.elements
    counts = Counter(element.origin for element in elements)
    whole = f"This skeleton is made of {count_of(len(elements), 'element')}: single bones, or bones that move as one."
    if len(counts) == 1:
        origin = elements[0].origin
        one = len(elements) == 1
        return f"{whole} {'It' if one else 'All of them'} {_ORIGINS[origin][0 if one else 1]}."
    told = [f"{counts[origin]} {words[counts[origin] != 1]}" for origin, words in _ORIGINS.items() if counts[origin]]
    return f"{whole} Of these, {join_words(told)}."


def _tell_joints(table: RangeTable) -> str:
    sure = Counter(own.joint.confidence for own in table.joints)
    by_hand = [own.joint.child for own in table.joints if own.joint.confidence == "by hand"]
    if not table.joints:
        return "None of its joints turns."

    def count(number: int) -> str:
        return "all of them" if number == len(table.joints) > 1 else str(number)

    told = []
    if sure["found"]:
        told.append(f"read from the facets, the smooth surfaces where bones meet, in {count(sure['found'])}")
    if sure["ambiguous"]:
        told.append(f"from facets that are in doubt in {count(sure['ambiguous'])}")
    if by_hand:
        told.append(f"set by hand in {count(len(by_hand))} ({list_some(by_hand)})")
    if sure["none"]:
        told.append(f"left open in {count(sure['none'])}")
    turning = "1 joint turns" if len(table.joints) == 1 else f"{len(table.joints)} joints turn"
    text = f"{turning}. How {'it turns' if len(table.joints) == 1 else 'they turn'} was {join_words(told)}."
    if table.ambiguous:
        places = "1 more place" if len(table.ambiguous) == 1 else f"{len(table.ambiguous)} more places"
        text += f" At {places} the surfaces do not tell how the bones turned; there they stay as they were laid out."
    if table.fixed:
        text += (
            f" {count_of(len(table.fixed), 'other connection')} {'is' if len(table.fixed) == 1 else 'are'} kept fixed."
        )
    unknown = [own.joint.child for own in table.joints if not own.known]
    if unknown:
        text += f" How far {list_some(unknown)} can turn is not known."
    return text


def _tell_limits(skeleton: Skeleton, table: RangeTable) -> str:
    told = []
    shares = dict.fromkeys(format_setting(100 * settings.overlap_share, "%") for settings, _ in table.settings)
    if shares:
        told.append(
            f"A movement ends where bone meets bone, where less than {' or '.join(shares)} of a facet still covers its "
            "partner, or where the two gape too far. These are bone and facet limits at the stated settings: an outer "
            "bound."
        )
    if any(not disc.is_set for disc in list_discs(skeleton)):
        told.append("The gaps between vertebrae are those of the bones as they were laid out.")
    told.append(
        "Soft tissue is not considered: cartilage, ligaments, muscle and skin held the living animal to less. That a "
        "joint is inside its bony range does not say that the animal ever held it so."
    )
    return " ".join(told)


def _tell_poses(table: RangeTable) -> str:
    if not table.poses or not table.joints:
        return ""
    inside, outside, in_the_dark = [], [], []
    for i, pose in enumerate(table.poses):
        if pose in table.mounted:  # elements stood wrong in it: that is no pose of the animal
            continue
        beyond = sum(own.uses[i].state == "fails" for own in table.joints)
        unknown = sum(own.uses[i].state == "not known" and own.uses[i].turned for own in table.joints)
        if beyond:
            outside.append(f"{count_of(beyond, 'joint')} in “{pose}”")
        if unknown:
            in_the_dark.append(f"“{pose}”")
        if not beyond and not unknown:
            inside.append(f"“{pose}”")
    sentences = []
    if inside:
        whose = "every joint" if all(own.known for own in table.joints) else "every joint whose limits are known"
        sentences.append(f"{whose.capitalize()} is inside its bony range in {list_some(inside)}.")
    if outside:
        sentences.append(f"Outside it: {list_some(outside)}.")
    if in_the_dark:
        sentences.append(f"Joints whose range is not known are turned in {list_some(in_the_dark)}.")
    return " ".join(sentences)


def _tell_corrections(document: SkeletonDocument) -> str:
    counts: Counter[InterventionKind] = Counter()
    for own in list_interventions(document.skeleton):
        counts[own.kind] += len(own.elements)
    by_hand = [
        one if counts[kind] == 1 else many.format(counts[kind])
        for kind, (one, many) in _BY_HAND.items()
        if counts[kind]
    ]
    told = _tell_put_right(document.records)
    told += [join_words(by_hand)] if by_hand else []
    if not told:
        return "No element was moved from where it had been laid out."
    return " ".join(f"{text[0].upper()}{text[1:]}." for text in (*told, "the range report gives each with its reason"))


def _tell_put_right(records: Sequence[Record]) -> list[str]:
    """How many elements were put right and not put back again, and how many bones were made here."""
    right: list[Record] = []
    for record in records:
        if record.kind == "correction" and record.action == "put back":
            last = max((i for i, own in enumerate(right) if own.action in PUT_RIGHT), default=len(right))
            del right[last : last + 1]
        elif record.kind == "correction":
            right.append(record)
    elements = {name for record in right for name in record.elements}
    made = {record.elements[0] for record in records if record.kind == "addition"}  # then comes what it is made of
    told = []
    if elements:
        count = count_of(len(elements), "element")
        told.append(f"{count} had been mounted wrongly and {_was(elements)} put right")
    if made:
        told.append(
            f"{count_of(len(made), 'missing bone')} {_was(made)} made from {'another' if len(made) == 1 else 'others'}"
        )
    return told


def _was(names: Collection[str]) -> str:
    return "was" if len(names) == 1 else "were"
