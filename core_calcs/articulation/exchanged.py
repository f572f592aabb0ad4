"""Bones of hands, feet, limbs and girdles that stand in each other's place.

Two of one side are told by shape: each is the mirror image of the other's partner; which side it is, by how they fit
between their neighbours. Left and right of one pair are mirror images wherever they stand, so that the fit alone tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import hypot

from ..skeleton.verdict import Decision, Rating, Verdict
from ..spatial.progress import Progress, ignore_progress, part_of
from .bones import Bone
from .pairs import BESIDE, Pair, Scene, Shapes, prepare_shapes, set_scene
from .seating import Standing
from .sides import audit_sides

ODD = 1.5
"""A bone is unlike its partner where it is so many times as far from its mirror image as most are."""
LIKER = 1.6
"""Two pairs are crossed where they are so many times as far from their own partners as from the other's."""
ALIKE = 2.0
"""And no farther from that than so many times what most are from their own."""
SIZES = 1.6
"""Nobody takes a bone for another that is so many times as large."""
CLEAR = 0.06
"""The side that fits better exchanged, against the other, by so much of s² a bone is the one that is."""


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
    verdicts = []
    crossed: set[Pair] = set()
    for crossing in find_crossings(scene):
        verdict, moved = judge_crossing(scene, crossing)
        scene = scene.move(moved)
        verdicts.append(verdict)
        crossed |= {crossing.one, crossing.other}
    left = [pair for pair in scene.pairs if pair not in crossed]
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


def judge_crossing(scene: Scene, crossing: Crossing) -> tuple[Verdict, dict[str, Standing]]:
    """Say which side stands exchanged, and how it would stand right."""
    gains: dict[str, float] = {}
    moved: dict[str, dict[str, Standing]] = {}
    for side in ("left", "right"):
        moved[side], gains[side] = exchange(scene, crossing.one.on(side), crossing.other.on(side))
    side = max(gains, key=lambda which: gains[which])
    beyond = gains[side] - gains["left" if side == "right" else "right"]
    names = crossing.one.on(side), crossing.other.on(side)
    clear = beyond > CLEAR
    decision: Decision = "wrong" if clear else "undecided"
    told = (
        f"each is the mirror image of the other's partner ({crossing.crossed_s:.3f} s off) rather than of its own "
        f"({crossing.own_s:.3f} s)"
    )
    fits = ", ".join(f"on the {which} by {gains[which]:+.2f} s²" for which in ("left", "right"))
    told += f"; exchanged, they would fit their neighbours better or worse: {fits}"
    off = "off its partner's mirror image [s]"
    ratings = [
        Rating(
            f"exchanged on the {which}",
            gains[which],
            (("fit gained, a bone [s2]", gains[which]), (off, crossing.crossed_s)),
        )
        for which in sorted(gains, key=lambda which: -gains[which])
    ]
    ratings.append(Rating("as placed", 0.0, ((off, crossing.own_s),)))
    if not clear:
        both = (*(crossing.one.on(s) for s in gains), *(crossing.other.on(s) for s in gains))
        return Verdict("exchanged", both, decision, tuple(ratings), {}, f"{told}; which side it is does not show"), {}
    right = moved[side]
    places = {name: scene.place(name, standing.X_WB) for name, standing in right.items()}
    return Verdict("exchanged", names, decision, tuple(ratings), places, f"{names[0]} and {names[1]}: {told}"), right


def exchange(scene: Scene, one: str, other: str) -> tuple[dict[str, Standing], float]:
    """Two bones laid into each other's place and seated, and how much better they fit there, a bone [s2]."""
    now = sum(scene.seat(scene.standings[name]).score for name in (one, other))
    there = {
        a: scene.stand(a, scene.standings[b].X_WB @ scene.shapes.lay(a, b)[0].X_OB)
        for a, b in ((one, other), (other, one))
    }
    score = 0.0
    for a, b in ((one, other), (other, one)):
        moved = scene.move(there)
        tried = [moved.seat(scene.stand(a, scene.standings[b].X_WB @ way.X_OB)) for way in scene.shapes.near_ways(a, b)]
        best = max(tried, key=lambda seat: seat.score)
        there[a] = scene.stand(a, best.X_WB)
        score += best.score
    return there, (score - now) / 2
