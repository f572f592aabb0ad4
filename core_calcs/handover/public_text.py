"""A short text for the public: what the poses rest on, in plain language, from the document's own figures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

from ..document.document import SkeletonDocument
from ..document.record import Record
from ..skeleton.element import Origin
from ..skeleton.tree import Skeleton
from ..studies.disc_thickness import list_discs
from ..studies.ranges import RangeTable
from .interventions import InterventionKind, list_interventions
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
    "disc set": ("the gap in 1 joint was set by hand", "the gaps in {} joints were set by hand"),
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
    told = []
    if sure["found"]:
        told.append(f"{sure['found']} by the facets, the smooth surfaces where bones meet")
    if sure["ambiguous"]:
        told.append(f"{sure['ambiguous']} by facets that are in doubt")
    if by_hand:
        told.append(f"{len(by_hand)} by hand ({_list_some(by_hand)})")
    if not told:
        return "None of its joints turns."
    turning = (
        "1 joint turns. It was found" if len(table.joints) == 1 else f"{len(table.joints)} joints turn. They were found"
    )
    text = f"{turning}: {'; '.join(told)}."
    if table.ambiguous:
        places = "1 more place" if len(table.ambiguous) == 1 else f"{len(table.ambiguous)} more places"
        text += f" At {places} the surfaces do not tell how the bones turned; there they stay as they were laid out."
    if table.fixed:
        text += (
            f" {count_of(len(table.fixed), 'other connection')} {'is' if len(table.fixed) == 1 else 'are'} kept fixed."
        )
    unknown = [own.joint.child for own in table.joints if not own.known]
    if unknown:
        text += f" How far {_list_some(unknown)} can turn is not known."
    return text


def _tell_limits(skeleton: Skeleton, table: RangeTable) -> str:
    told = []
    shares = dict.fromkeys(format_setting(100 * settings.overlap_share, "%") for settings, _ in table.settings)
    if shares:
        told.append(
            "A movement ends where bone meets bone, where too little of a facet still covers its partner (less than "
            f"{' or '.join(shares)}), or where the two gape too far. These are bone and facet limits at the stated "
            "settings: an outer bound."
        )
    if any(not disc.is_set for disc in list_discs(skeleton)):
        told.append("The gaps between vertebrae are those of the bones as they were laid out, unless said below.")
    told.append(
        "Soft tissue is not considered: cartilage, ligaments, muscle and skin held the living animal to less. That a "
        "joint is inside its bony range does not say that the animal ever held it so."
    )
    return " ".join(told)


def _tell_poses(table: RangeTable) -> str:
    if not table.poses or not table.joints:
        return ""
    sentences, inside = [], []
    for i, pose in enumerate(table.poses):
        states = Counter(own.uses[i].state for own in table.joints)
        unknown = sum(own.uses[i].state == "not known" and own.uses[i].turned for own in table.joints)
        if not states["fails"] and not unknown:
            inside.append(f"“{pose}”")
        if states["fails"]:
            stand = "stands" if states["fails"] == 1 else "stand"
            sentences.append(f"In “{pose}” {count_of(states['fails'], 'joint')} {stand} outside the bony range.")
        if unknown:
            turned = "1 joint is" if unknown == 1 else f"{unknown} joints are"
            sentences.append(f"In “{pose}” {turned} turned although the range is not known.")
    if inside:
        pose = "pose" if len(inside) == 1 else "poses"
        whose = "every joint" if all(own.known for own in table.joints) else "every joint whose limits are known"
        sentences.insert(0, f"In the {pose} {_list_some(inside)} {whose} is inside its bony range.")
    return " ".join(sentences[:4])


def _tell_corrections(document: SkeletonDocument) -> str:
    counts: Counter[InterventionKind] = Counter()
    for own in list_interventions(document.skeleton):
        counts[own.kind] += len(own.elements)
    told = _tell_put_right(document.records)
    told += [
        one if counts[kind] == 1 else many.format(counts[kind])
        for kind, (one, many) in _BY_HAND.items()
        if counts[kind]
    ]
    if not told:
        return "No element was moved from where it had been laid out."
    text = join_words(told)
    return f"{text[0].upper()}{text[1:]}. The range report gives each with its reason."


def _tell_put_right(records: Sequence[Record]) -> list[str]:
    """How many elements were put right and not put back again, and how many bones were made here."""
    right: list[Record] = []
    for record in records:
        if record.kind == "correction" and record.action == "put back":
            right = right[:-1]
        elif record.kind == "correction":
            right.append(record)
    elements = {name for record in right for name in record.elements}
    made = {name for record in records if record.kind == "addition" for name in record.elements}
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


def count_of(count: int, name: str) -> str:
    """E.g. "1 joint", "2 joints"."""
    return f"{count} {name}{'' if count == 1 else 's'}"


def join_words(words: Sequence[str]) -> str:
    """E.g. "a, b and c"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _list_some(names: Sequence[str], most: int = 4) -> str:
    if len(names) <= most:
        return join_words(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"
