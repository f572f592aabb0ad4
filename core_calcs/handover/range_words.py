"""What the range report says in sentences: how sure the whole is, what does not turn and why, what stands by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from ..skeleton.joint import Joint
from ..skeleton.tree import Skeleton
from ..studies.ranges import RangeTable
from .interventions import list_interventions
from .phrases import count_of, list_names
from .range_lines import PoseLine
from .report_sections import KeyFigure

_MOST_NAMES = 6


def list_key_facts(table: RangeTable, poses: Sequence[PoseLine]) -> tuple[KeyFigure, ...]:
    """How many joints turn, how they were found, what is not known, and how many poses are inside; none as mounted."""
    sure = Counter(own.joint.confidence for own in table.joints)
    others = [f"{count} {name}" for name, count in sure.items() if name != "found"]
    unknown = sum(not own.known for own in table.joints)
    poses = [pose for pose in poses if pose.pose not in table.mounted]
    outside = [pose for pose in poses if pose.state == "fails"]
    in_the_dark = [pose for pose in poses if pose.state == "not known"]
    other = [f"outside: {list_names([pose.pose for pose in outside], 3)}"] if outside else []
    if in_the_dark:
        other.append(f"not known: {list_names([pose.pose for pose in in_the_dark], 3)}")
    where = [f"{len(table.column)} along the column, {len(table.others)} off it"]
    if table.ambiguous:
        where.append(f"of {len(table.ambiguous)} more the surfaces do not tell how they turn")
    sureness = [", ".join(others)] if others else []
    if unknown:
        sureness.append(f"the limits of {count_of(unknown, 'joint')} are not known")
    return (
        KeyFigure("Joints that turn", str(len(table.joints)), "; ".join(where)),
        KeyFigure("Found from their facets", str(sure["found"]), "; ".join(sureness)),
        KeyFigure(
            "Poses inside the bony range",
            f"{len(poses) - len(outside) - len(in_the_dark)} of {len(poses)}" if poses else "–",
            "; ".join(other),
        ),
    )


def group_fixed(joints: Sequence[Joint]) -> tuple[tuple[str, str, str], ...]:
    """Reason, how many, and names of the connections that do not turn; reasons alike but for their figures as one."""
    alike: dict[str, list[str]] = {}
    for joint in joints:
        alike.setdefault(joint.reason.split(";")[0].strip() or "no reason given", []).append(joint.child)
    ordered = sorted(alike.items(), key=lambda own: -len(own[1]))
    return tuple((reason, str(len(names)), list_names(names, _MOST_NAMES)) for reason, names in ordered)


def tell_interventions(skeleton: Skeleton) -> tuple[tuple[str, str, str, str], ...]:
    """What stands by hand now: kind, elements, how, why."""
    return tuple(
        (own.kind, list_names(own.elements, _MOST_NAMES), own.how or "–", own.why or "–")
        for own in list_interventions(skeleton)
    )
