"""The way from the head to the tip of the tail."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from core_calcs.document.document import SkeletonDocument
from core_calcs.skeleton.tree import build_skeleton
from core_calcs.studies.column import list_column_joints


def test_head_to_tail_without_jaw_and_legs(box_document: tuple[SkeletonDocument, Path]) -> None:
    column = list_column_joints(box_document[0].skeleton)
    neck = [f"cervical {i}" for i in range(1, 6)]
    assert column.forward == ("skull", *neck, *(f"dorsal {i}" for i in range(1, 7)))
    assert column.backward == tuple(f"caudal {i}" for i in range(1, 11))


def test_without_head_or_tail(box_document: tuple[SkeletonDocument, Path]) -> None:
    skeleton = box_document[0].skeleton
    kept = [e for e in skeleton.elements if e.series in ("sacral", "dorsal", "limb")]
    names = {element.name for element in kept}
    trunk = build_skeleton("trunk", tuple(kept), tuple(j for j in skeleton.joints if j.child in names))
    column = list_column_joints(trunk)
    assert column.forward == tuple(f"dorsal {i}" for i in range(1, 7))
    assert column.backward == ()
    alone = build_skeleton("one", skeleton.elements[:1], ())
    assert list_column_joints(alone).forward == ()


def test_the_root_may_be_the_skull_and_a_chevron_no_vertebra(box_document: tuple[SkeletonDocument, Path]) -> None:
    """Rooted in the skull, the jaw on it; a chevron on the last vertebra, of its number."""
    skeleton = box_document[0].skeleton
    by_name = {element.name: element for element in skeleton.elements}
    way = ["skull", *(f"cervical {i}" for i in range(1, 6)), *(f"dorsal {i}" for i in range(1, 7))]
    names = [*way, "jaw"]
    joint = skeleton.joints[0]
    joints = [replace(joint, parent=before, child=after) for before, after in pairwise(way)]
    joints.append(replace(joint, parent="skull", child="jaw"))
    column = list_column_joints(build_skeleton("head", tuple(by_name[name] for name in names), tuple(joints)))
    assert column.forward == ()
    assert column.backward == tuple(way[1:])
    numbered = [
        replace(own, position=int(own.name.split()[1])) if own.series == "caudal" else own for own in skeleton.elements
    ]
    chevron = replace(numbered[-1], name="chevron 10", series="caudal", position=10)
    hung = replace(joint, parent="caudal 10", child="chevron 10")
    tail = build_skeleton("tail", (*numbered, chevron), (*skeleton.joints, hung))
    assert list_column_joints(tail).backward == tuple(f"caudal {i}" for i in range(1, 11))
