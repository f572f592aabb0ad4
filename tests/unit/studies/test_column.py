"""The way from the head to the tip of the tail."""

from __future__ import annotations

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
