"""The elements of a column thrown anywhere, each with what hangs on it; and how far from its place each comes back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from scipy.spatial.transform import Rotation

from core_calcs.document.document import SkeletonDocument
from core_calcs.skeleton.motions import move_skeleton
from core_calcs.skeleton.tree import Skeleton
from core_calcs.spatial.transforms import apply, invert, make_transform


def scatter(
    document: SkeletonDocument,
    children: tuple[str, ...],
    seed: int,
    far_m: float = 1.0,
    placed: Mapping[str, np.ndarray] | None = None,
) -> SkeletonDocument:
    """Every child named, with what hangs on it, moved by a rigid motion of its own; facets go with their elements.

    placed : (4, 4) motions of elements that are not to be thrown
    """
    skeleton, rng = document.skeleton, np.random.default_rng(seed)
    own = {
        name: make_transform(Rotation.random(random_state=rng.integers(2**31)).as_matrix(), far_m * rng.normal(size=3))
        for name in children
    }
    own |= placed or {}
    parents = {joint.child: joint.parent for joint in skeleton.joints}
    motions: dict[str, np.ndarray] = {}
    for element in skeleton.elements:
        motions[element.name] = own.get(element.name, motions.get(parents.get(element.name, ""), np.eye(4)))
    X_WE = {element.name: motions[element.name] @ element.X_WE for element in skeleton.elements}
    return replace(document, skeleton=move_skeleton(skeleton, X_WE, motions))


def find_place(skeleton: Skeleton, name: str) -> np.ndarray:
    return skeleton.elements[skeleton.index(name)].X_WE


def measure_joint(before: Skeleton, after: Skeleton, child: str) -> tuple[float, float]:
    """How far a child's centre stands from its place on its parent [m], and how far it is turned there [rad]."""
    joint = before.joint_of(child)
    X_PE, Y_PE = (invert(find_place(own, joint.parent)) @ find_place(own, child) for own in (before, after))
    centre = before.elements[before.index(child)].solid.centre_m[None]
    off = np.linalg.norm(apply(Y_PE, centre) - apply(X_PE, centre))
    return float(off), float(Rotation.from_matrix(Y_PE[:3, :3] @ X_PE[:3, :3].T).magnitude())


def measure_chain(before: Skeleton, after: Skeleton, names: tuple[str, ...]) -> float:
    """How far the last of neighbours ends from its place on the first, as a share of the way from centre to centre."""
    centres = np.array(
        [apply(find_place(before, name), before.elements[before.index(name)].solid.centre_m[None])[0] for name in names]
    )
    D = find_place(before, names[0]) @ invert(find_place(after, names[0]))
    last = after.elements[after.index(names[-1])]
    end = apply(D @ last.X_WE, last.solid.centre_m[None])[0]
    return float(np.linalg.norm(end - centres[-1]) / np.linalg.norm(np.diff(centres, axis=0), axis=1).sum())
