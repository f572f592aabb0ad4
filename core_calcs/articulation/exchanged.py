"""Bones of hands, feet, limbs and girdles that stand in each other's place.

Two of one side are told by shape: each is the mirror image of the other's partner; which side it is, by how they fit
between their neighbours. Left and right of one pair are mirror images wherever they stand, so that the fit alone tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product
from math import hypot

from ..skeleton.verdict import Rating, Verdict
from ..spatial.progress import Progress, ignore_progress, part_of
from .bones import Bone
from .congruence import compare_joints
from .mirrored_bones import audit_copies
from .pairs import ALIKE, BESIDE, LIKER, ODD, Pair, Scene, Shapes, prepare_shapes, set_scene
from .registration import Way
from .seating import Seat, Standing, find_neighbours
from .sides import audit_sides
from .turned_bones import audit_turned

SIZES = 1.6
"""Nobody takes a bone for another that is so many times as large."""
CLOSER = 0.06
"""The side whose joints would close by being exchanged, by so much more of a share than those of the other, is the one
that is."""


@dataclass(frozen=True)
class Gain:
    """What exchanging bones of a side would gain: of fit, a bone [s2]; of closeness, a share of each joint."""

    fit_s2: float
    closeness: float


@dataclass(frozen=True)
class Crossing:
    """Two pairs of which one side stands exchanged; how far from their own partners, and from the other's [s]."""

    one: Pair
    other: Pair
    own_s: float
    crossed_s: float


def audit_bones(
    bones: Sequence[Bone], progress: Progress = ignore_progress, shapes: Shapes | None = None
) -> tuple[Verdict, ...]:
    """Say of bones in pairs whether they stand in each other's place.

    Parameters
    ----------
    bones : all elements; those of limbs, girdles and sacrum are looked at, those with a partner judged
    shapes : of the same surfaces, made before

    Returns
    -------
    One verdict for every pair of left and right, and one for every two that are exchanged within a side, or may be.
    """
    chosen = [bone for bone in bones if bone.series in BESIDE]
    if shapes is None:
        shapes = prepare_shapes({bone.name: bone.surface for bone in chosen}, part_of(progress, 0, 0.15))
    scene = set_scene(chosen, shapes, part_of(progress, 0.15, 0.35))
    crossings = find_crossings(scene)
    verdicts: list[Verdict] = []
    for group in group_crossings(scene, crossings):
        told, moved = judge_crossings(scene, group)
        scene = scene.move(moved)
        verdicts += told
    judged = {pair for crossing in crossings for pair in (crossing.one, crossing.other)}
    left = [pair for pair in scene.pairs if pair not in judged]
    for told, moved in (audit_turned(scene, left), (audit_copies(scene, left), {})):
        scene = scene.move(moved)
        verdicts += told
        names = {name for verdict in told for name in verdict.elements}
        left = [pair for pair in left if not names & {pair.left, pair.right}]
    return (*verdicts, *audit_sides(scene, left, part_of(progress, 0.35, 1)))


def find_crossings(scene: Scene) -> list[Crossing]:
    """Pairs of pairs that are mirror images crosswise, the clearest first, none of them twice."""
    odd = [pair for pair in scene.pairs if pair.off_s > ODD * scene.usual_off_s]
    found = []
    for one, other in combinations(odd, 2):
        sizes = sorted(scene.shapes.bodies[pair.left].size for pair in (one, other))
        if sizes[1] > SIZES * sizes[0]:
            continue
        crossed = hypot(
            scene.shapes.lay(other.right, one.left, mirrored=True)[0].off_s,
            scene.shapes.lay(one.right, other.left, mirrored=True)[0].off_s,
        )
        own = hypot(one.off_s, other.off_s)
        if own > LIKER * crossed and crossed < ALIKE * 2**0.5 * scene.usual_off_s:
            found.append(Crossing(one, other, own, crossed))
    kept: list[Crossing] = []
    for crossing in sorted(found, key=lambda c: c.crossed_s / c.own_s):
        taken = {pair for c in kept for pair in (c.one, c.other)}
        if crossing.one not in taken and crossing.other not in taken:
            kept.append(crossing)
    return kept


def group_crossings(scene: Scene, crossings: Sequence[Crossing]) -> list[list[Crossing]]:
    """Those that lie beside each other together: two whole rays that are exchanged still fit within themselves."""
    groups: list[tuple[list[Crossing], set[str]]] = []
    for crossing in crossings:
        names = {crossing.one.left, crossing.other.left}
        near = {n.name for a in names for n in find_neighbours(scene.standings[a], scene.standings.values())}
        beside = [group for group in groups if group[1] & near]
        groups = [group for group in groups if group not in beside]
        groups.append(([*(c for g, _ in beside for c in g), crossing], names.union(*(g for _, g in beside))))
    return [group for group, _ in groups]


def judge_crossings(scene: Scene, group: Sequence[Crossing]) -> tuple[list[Verdict], dict[str, Standing]]:
    """Say which side stands exchanged, one verdict for each crossing, and how its bones would stand right."""
    gains: dict[str, Gain] = {}
    moved: dict[str, dict[str, Standing]] = {}
    for side in ("left", "right"):
        moved[side], gains[side] = exchange(scene, [(c.one.on(side), c.other.on(side)) for c in group])
    side, against = sorted(gains, key=lambda which: -gains[which].closeness)
    if gains[side].closeness - gains[against].closeness < CLOSER:
        return [tell(scene, crossing, gains, None, moved) for crossing in group], {}
    return [tell(scene, crossing, gains, side, moved) for crossing in group], moved[side]


def exchange(scene: Scene, pairs: Sequence[tuple[str, str]]) -> tuple[dict[str, Standing], Gain]:
    """Bones laid two by two into each other's place and seated, and how much better they fit there."""
    places = {a: b for pair in pairs for a, b in (pair, pair[::-1])}
    now = {name: scene.seat(scene.standings[name]) for name in places}
    there = {one: lay(scene, one, other, scene.shapes.lay(one, other)[0]) for one, other in places.items()}
    then: dict[str, Seat] = {}
    for one, other in pairs:
        then.update(fit_both(scene, scene.move(there), one, other))
        there.update({name: scene.stand(name, then[name].X_WB) for name in (one, other)})
    fit = sum(then[name].score - now[name].score for name in places) / len(places)
    joints = {(name, near): joint for name, seat in now.items() for near, joint in seat.joints.items()}
    # By the place: whoever stands there now, the neighbours' places stay.
    exchanged = {
        (places[name], places.get(near, near)): joint
        for name, seat in then.items()
        for near, joint in seat.joints.items()
    }
    return there, Gain(fit, compare_joints(joints, exchanged))


def fit_both(scene: Scene, moved: Scene, one: str, other: str) -> dict[str, Seat]:
    """Two bones seated in each other's place in those of the ways, of both together, in which they fit best.

    moved : the scene with all bones that are exchanged about where they would be
    """
    best: dict[str, Seat] = {}
    for way, back in product(scene.shapes.near_ways(one, other), scene.shapes.near_ways(other, one)):
        both = {one: lay(scene, one, other, way), other: lay(scene, other, one, back)}
        seats = {}
        for name in (one, other):
            seats[name] = moved.move(both).seat(both[name])
            both[name] = scene.stand(name, seats[name].X_WB)
        if not best or sum(s.score for s in seats.values()) > sum(s.score for s in best.values()):
            best = seats
    return best


def lay(scene: Scene, one: str, other: str, way: Way) -> Standing:
    """A bone laid upon another where that stands."""
    return scene.stand(one, scene.standings[other].X_WB @ way.X_OB)


def tell(
    scene: Scene, crossing: Crossing, gains: dict[str, Gain], side: str | None, moved: dict[str, dict[str, Standing]]
) -> Verdict:
    """The verdict on a crossing with its figures; side : the one that is exchanged, None where that does not show."""
    off = "off its partner's mirror image [s]"
    places = {
        which: {
            name: scene.place(name, moved[which][name].X_WB)
            for name in (crossing.one.on(which), crossing.other.on(which))
        }
        for which in gains
    }
    ratings = [
        Rating(
            f"exchanged on the {which}",
            gain.closeness,
            (("closeness gained", gain.closeness), ("fit gained, a bone [s²]", gain.fit_s2), (off, crossing.crossed_s)),
            places[which],
        )
        for which, gain in sorted(gains.items(), key=lambda item: -item[1].closeness)
    ]
    ratings.append(Rating("as placed", 0.0, ((off, crossing.own_s),)))
    shapes = (
        f"each is the mirror image of the other's partner ({crossing.crossed_s:.3f} s off) rather than of its own "
        f"({crossing.own_s:.3f} s)"
    )
    left, right = (100 * gains[which].closeness for which in ("left", "right"))
    fits = f"exchanged their joints close by {left:+.0f} % on the left, by {right:+.0f} % on the right"
    if side is None:
        one, other = crossing.one, crossing.other
        what = (
            f"{one.left} and {other.left}, or {one.right} and {other.right}: {shapes}; {fits}: too little to say which"
        )
        four = (one.left, other.left, one.right, other.right)
        return Verdict("exchanged", four, "undecided", tuple(ratings), {}, what)
    names = crossing.one.on(side), crossing.other.on(side)
    what = f"{names[0]} and {names[1]}: {shapes}; {fits}"
    return Verdict("exchanged", names, "wrong", tuple(ratings), places[side], what)
