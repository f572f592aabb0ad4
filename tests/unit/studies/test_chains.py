"""Moments of neck, trunk, tail and limbs: against each branch's own weights, added up by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from core_calcs.document.document import SkeletonDocument
from core_calcs.site.site import GRAVITY
from core_calcs.studies.assess import assess
from core_calcs.studies.chains import find_greatest_moments, list_links, name_chains


@pytest.fixture(params=[0, 1])
def studied(box_document: tuple[SkeletonDocument, Path], request: pytest.FixtureRequest):
    document = box_document[0]
    pose = document.poses[request.param]
    return document.skeleton, assess(document.skeleton, pose, document.build, document.site)


def test_neck_and_tail_pull_as_their_weights_do(studied) -> None:
    """Beyond a cut of neck or tail nothing touches the ground: weights times horizontal arms are the moment."""
    skeleton, found = studied
    greatest = {own.chain: own for own in find_greatest_moments(name_chains(skeleton), found.joints)}
    assert list(greatest) == ["neck", "trunk", "tail", "limb"]
    masses = {own.element: own for own in found.masses}
    for chain, ends in (("neck", ("cervical", "skull")), ("tail", ("caudal",))):
        by_hand = {}
        for joint in found.joints:
            if not joint.child.startswith(ends):
                continue
            beyond = list_beyond(skeleton, joint.child)
            arms = np.array([masses[name].centre_m - joint.point_m for name in beyond])[:, :2]
            weights = GRAVITY * np.array([masses[name].mass_kg for name in beyond])
            by_hand[joint.child] = float(np.hypot(*(weights @ arms)))
        child = max(by_hand, key=by_hand.__getitem__)
        assert greatest[chain].child == child
        assert greatest[chain].moment_Nm == pytest.approx(by_hand[child], rel=1e-9)
        assert greatest[chain].unknown == 0


def list_beyond(skeleton, child: str) -> list[str]:
    names = [child]
    for joint in skeleton.joints:
        if joint.parent in names:
            names.append(joint.child)
    return names


def test_what_is_not_known_is_not_zero(studied) -> None:
    skeleton, found = studied
    unknown = tuple(
        replace(joint, moment_Nm=None) if joint.child.startswith(("fore", "hind", "caudal 1")) else joint
        for joint in found.joints
    )
    greatest = {own.chain: own for own in find_greatest_moments(name_chains(skeleton), unknown)}
    assert (greatest["limb"].moment_Nm, greatest["limb"].child, greatest["limb"].unknown) == (None, "", 4)
    assert greatest["tail"].unknown == 2
    assert greatest["tail"].child == "caudal 2"


def test_links_run_along_column_and_limbs_alone(studied) -> None:
    skeleton, _ = studied
    pairs = {(skeleton.joints[a].child, skeleton.joints[b].child) for a, b in list_links(skeleton)}
    neck = [f"dorsal {i}" for i in range(6, 0, -1)] + [f"cervical {i}" for i in range(5, 0, -1)] + ["skull"]
    tail = [f"caudal {i}" for i in range(1, 11)]
    assert pairs == {*pairwise(neck), *pairwise(tail)}
