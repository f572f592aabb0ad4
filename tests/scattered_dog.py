"""The dog's column from scattered elements: each thrown anywhere, and mated to its neighbour.

What an element takes along is its surface and, of each of its facets, the outline as the joint search found it on the
articulated dog, in its own frame. Of where the neighbour stood nothing is told but the gap:

- "true gaps": of every disc its ventral and its dorsal height, read off the articulated dog with a calliper
  (`read_heights` says how); of zygapophyses one figure, the mean as scanned;
- "one true figure": of every disc, too, the mean as scanned alone;
- "one nominal gap": one share of s for all discs, nothing for zygapophyses.

A hand that marks badly leaves a fifth of each facet away on one side and misses its rim by .03 s; the calliper was held
to the true rims. A hand that misreads the calliper is off by a tenth of a millimetre (standard deviation) each time.

`python -m tests.scattered_dog` prints the table of docs/theory-joints.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

from core_calcs.articulation.chain import Link, place_chain
from core_calcs.articulation.facets import Patch
from core_calcs.articulation.known_facets import Facets, find_own_midplane, take_outlined
from core_calcs.articulation.mating import mate
from core_calcs.articulation.motions import move_rigidly
from core_calcs.articulation.partner import Partner
from core_calcs.articulation.rim_heights import RimHeights
from core_calcs.skeleton.joint import Facet, FacetKind
from core_calcs.skeleton.motions import move_facet
from core_calcs.spatial.transforms import apply, invert, make_transform
from tests.dog_column import NAMES, ColumnJoint, prepare_joints, read_vertebrae

NOMINAL_S = 0.05
"""The gap of every disc where none is known: to this the disturbed column was closed up before anything was mated."""
SPAN = 13
"""Joints of a chain that is measured from end to end."""
LAST, TRUNK = NAMES.index("Ca_5"), NAMES.index("Sacrum")
"""So many joints from the head on have zygapophyses; so many are those of neck and trunk."""
CROPPED, RIM_S = 0.2, 0.03

JAW = 0.25
"""How wide the calliper's jaws are: so much of an end plate's width."""

Hand = Callable[[Patch, np.random.Generator], Patch]
MISREAD_M = 0.1e-3
"""How far a hand that misreads the calliper is off: standard deviation of each height."""


@dataclass(frozen=True, eq=False)
class Scattered:
    """What is left of the column: elements in frames of their own, and the facets on them.

    X_WE : where each belongs; facets : (headward, tailward) facets of each joint by its tailward element
    """

    elements: dict[str, Partner]
    X_WE: dict[str, np.ndarray]
    facets: dict[str, tuple[dict[FacetKind, Facet], dict[FacetKind, Facet]]]
    joints: dict[str, ColumnJoint]


def scatter_dog(folder: Path, seed: int, children: tuple[str, ...] = NAMES[1:]) -> Scattered:
    """Throw every element of the column anywhere; children : the tailward elements of the joints that are tried."""
    joints = prepare_joints(read_vertebrae(folder, set(NAMES)), children)
    rng = np.random.default_rng(seed)
    elements, X_WE, facets = {}, {}, {}
    for joint in joints.values():
        for element in (joint.parent, joint.child):
            if element.name not in elements:
                R = Rotation.random(random_state=rng.integers(2**31)).as_matrix()
                S = make_transform(R, rng.normal(size=3))
                elements[element.name], X_WE[element.name] = move_rigidly(element, S), invert(S)
    for child, joint in joints.items():
        names = joint.parent.name, child
        facets[child] = tuple(
            {pair[k].kind: move_facet(pair[k].as_facet(), invert(X_WE[names[k]])) for pair in joint.pairs}
            for k in (0, 1)
        )
    return Scattered(elements, X_WE, facets, joints)


def read_heights(joint: ColumnJoint) -> np.ndarray:
    """(2,) ventral and dorsal height of a disc [m], read off the articulated animal with a calliper.

    How it is held was settled before anything was mated by these heights. The animal stands with its left side to +y.
    The beam of the calliper lies along the disc, at right angles to y and to the middle of the two end plates (the mean
    of their two normals). Its jaws, a quarter of the end plate's width wide, are laid on the rims at the animal's
    middle: on each outline, as the joint search drew it, on the stretch that lies within an eighth of the plate's width
    to either side of the plate's middle, on the side of the belly for the one height, of the back for the other. A jaw
    rests at the stretch's mean along the beam; the reading is from jaw to jaw along the beam.

    No number of the mating is used, nor where the elements' frames belong: outlines, normals and y of the animal as it
    stands.
    """
    plates = next(pair for pair in joint.pairs if pair[0].kind == "centrum")
    facets = [patch.as_facet() for patch in plates]
    left = np.array([0.0, 1.0, 0.0])
    beam = facets[1].normal - facets[0].normal  # towards the head: the first lies on the headward element
    beam -= left * beam[1]
    beam /= np.linalg.norm(beam)
    back = np.cross(beam, left)
    rests = [[_rest_jaw(facet.outline_m, left, side * back) @ beam for facet in facets] for side in (-1, 1)]
    return np.array([headward - tailward for headward, tailward in rests])


def _rest_jaw(outline: np.ndarray, left: np.ndarray, side: np.ndarray) -> np.ndarray:
    """Mean (3,) of the stretch of a closed loop on which a jaw lies that comes from one side."""
    steps = np.linspace(0, 1, 50, endpoint=False)[:, None, None]
    rim = (outline + steps * (np.roll(outline, -1, axis=0) - outline)).reshape(-1, 3)
    across, high = rim @ left, rim @ side
    middle, width = (across.max() + across.min()) / 2, np.ptp(across)
    under = (np.abs(across - middle) <= JAW / 2 * width) & (high > (high.max() + high.min()) / 2)
    return rim[under].mean(axis=0)


def mark_well(patch: Patch, rng: np.random.Generator) -> Patch:
    return patch


def mark_badly(patch: Patch, rng: np.random.Generator) -> Patch:
    """Without a fifth of it on one side, and with a rim that wavers."""
    points = patch.element.samples.points[patch.index]
    along = points @ rng.normal(size=3)
    kept = patch.index[along >= np.quantile(along, CROPPED)]
    samples = patch.element.samples
    middle = samples.points[kept].mean(axis=0)
    far = np.linalg.norm(samples.points[kept] - middle, axis=1)
    turn = np.linalg.svd(samples.points[kept] - middle, full_matrices=False)[2][:2]
    angle = np.arctan2(*((samples.points[kept] - middle) @ turn.T).T)
    waves = sum(rng.normal() * np.cos(n * angle + rng.uniform(0, 6.3)) for n in (1, 2, 3, 4)) / 2
    rim = np.quantile(far, 0.97) - RIM_S * patch.element.size * (1 + waves)
    return replace(patch, index=kept[far <= rim], fine=None)


@dataclass(frozen=True)
class Trial:
    """How a column is put together.

    heights : of discs both are told; else one figure, the true mean or a nominal share of s
    misread_m : standard deviation of what each height is misread by
    """

    heights: bool = True
    nominal_s: float | None = None
    hand: Hand = mark_well
    misread_m: float = 0.0


def mate_all(dog: Scattered, trial: Trial, seed: int = 1) -> list[Link]:
    """Every joint mated, from the head on."""
    rng = np.random.default_rng(seed)
    taken: dict[str, tuple[Facets, Facets]] = {}
    for child, both in dog.facets.items():
        names = dog.joints[child].parent.name, child
        found = []
        for name, facets in zip(names, both, strict=True):
            patches = {kind: take_outlined(dog.elements[name], facet) for kind, facet in facets.items()}
            assert all(patches.values()), (child, name)
            found.append({kind: trial.hand(patch, rng) for kind, patch in patches.items()})
        taken[child] = found[0], found[1]
    at_joints: dict[str, list[Facets]] = {name: [] for name in dog.elements}
    for child, (on_parent, on_child) in taken.items():
        at_joints[dog.joints[child].parent.name].append(on_parent)
        at_joints[child].append(on_child)
    planes = {name: find_own_midplane(dog.elements[name], facets) for name, facets in at_joints.items()}
    misread = {child: rng.normal(scale=trial.misread_m, size=2) if trial.misread_m else np.zeros(2) for child in taken}
    return [_mate(dog, child, *taken[child], planes, trial, misread[child]) for child in dog.joints]


def _mate(
    dog: Scattered, child: str, on_parent: Facets, on_child: Facets, planes, trial: Trial, misread: np.ndarray
) -> Link:
    joint = dog.joints[child]
    parent = joint.parent.name
    pairs = [(on_parent[kind], on_child[kind]) for kind in on_parent]
    if trial.nominal_s is None:
        gaps = [(one.gap_m + other.gap_m) / 2 for one, other in pairs]
        # Drums have no zygapophyses that tell their back: there a figure is all that can be used.
        if trial.heights and any(planes[name].back is not None for name in (parent, child)):
            gaps[0] = RimHeights(*(read_heights(joint) + misread))
    else:
        gaps = [trial.nominal_s * joint.size if one.kind == "centrum" else None for one, _ in pairs]
    mated = mate(pairs, gaps, (planes[parent], planes[child]))
    middle = (pairs[0][0].points.mean(axis=0) + apply(mated.D, pairs[0][1].points).mean(axis=0)) / 2
    return Link(parent, child, mated.D, middle, joint.size)


def measure_joints(dog: Scattered, links: list[Link]) -> np.ndarray:
    """(n, 2) how far each child's centre is from its place on its parent [m], and how far it is turned [rad]."""
    found = []
    for link in links:
        X_PE = invert(dog.X_WE[link.parent]) @ dog.X_WE[link.child]
        centre = dog.elements[link.child].centre[None]
        off = float(np.linalg.norm(apply(link.X_PE, centre) - apply(X_PE, centre)))
        found.append((off, Rotation.from_matrix(link.X_PE[:3, :3] @ X_PE[:3, :3].T).magnitude()))
    return np.array(found)


def measure_chains(dog: Scattered, links: list[Link], pinned: bool = False) -> np.ndarray:
    """(windows,) how far the centre of a chain's element ends from its place, as a share of the chain's length.

    The last element's, all windows of 13 joints, the first one standing where it belongs; pinned : the last stands
    there too, and it is the worst of those between.
    """
    found = []
    for k in range(len(links) - SPAN + 1):
        window = links[k : k + SPAN]
        names = [window[0].parent, *(link.child for link in window)]
        standing = {name: dog.X_WE[name] for name in (names[0], *names[-1:] * pinned)}
        X_WE = place_chain(window, standing).X_WE
        true, got = (
            np.array([apply(X[name], dog.elements[name].centre[None])[0] for name in names]) for X in (dog.X_WE, X_WE)
        )
        off = np.linalg.norm(got - true, axis=1)
        length = np.linalg.norm(np.diff(true, axis=0), axis=1).sum()
        found.append((off.max() if pinned else off[-1]) / length)
    return np.array(found)


TRIALS = {
    "true gaps": Trial(),
    "true gaps, misread": Trial(misread_m=MISREAD_M),
    "true gaps, marked badly": Trial(hand=mark_badly),
    "one true figure": Trial(heights=False),
    "one true figure, marked badly": Trial(heights=False, hand=mark_badly),
    "one nominal gap": Trial(heights=False, nominal_s=NOMINAL_S),
    "one nominal gap, marked badly": Trial(heights=False, nominal_s=NOMINAL_S, hand=mark_badly),
}


if __name__ == "__main__":
    dog = scatter_dog(Path(__file__).parents[1] / ".cache" / "dog", 1)
    for name, trial in TRIALS.items():
        links = mate_all(dog, trial)
        for part, of in (("C3 to sacrum", links[:TRUNK]), ("C3 to Ca5", links[:LAST]), ("C3 to Ca20", links)):
            off, turned = measure_joints(dog, of).T
            free, held = measure_chains(dog, of), measure_chains(dog, of, pinned=True)
            print(
                f"{name:30} {part:12} {1e3 * np.median(off):.2f} mm ({1e3 * off.max():.2f}), "
                f"{np.degrees(np.median(turned)):.2f}° ({np.degrees(turned.max()):.1f}°); over {SPAN} joints "
                f"{np.median(free):.1%} ({free.max():.1%}), pinned {np.median(held):.1%} ({held.max():.1%})",
                flush=True,
            )
