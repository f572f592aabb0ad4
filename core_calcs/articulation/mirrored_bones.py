"""Surfaces that are mirror images of what they should be: a scan that was mirrored, one bone used on both sides.

The two of a pair are then copies of each other. Which of them is the mirror image only the fit to the neighbours tells.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..skeleton.verdict import Decision, Rating, Verdict
from .pairs import ALIKE, LIKER, ODD, Pair, Scene
from .seating import Standing, find_neighbours

CLEAR, EACH = 0.18, 0.05
"""The one that gains fit by being mirrored, so much more of s² than the other and so much itself, is the image."""


def find_copies(scene: Scene, pairs: Sequence[Pair]) -> list[tuple[Pair, float]]:
    """Pairs that are copies rather than mirror images, and how far from copies they are [s]."""
    found = []
    for pair in pairs:
        if pair.off_s > ODD * scene.usual_off_s:
            copy = scene.shapes.lay(pair.right, pair.left)[0].off_s
            if pair.off_s > LIKER * copy and copy < ALIKE * scene.usual_off_s:
                found.append((pair, copy))
    return found


def audit_copies(scene: Scene, pairs: Sequence[Pair]) -> list[Verdict]:
    """One verdict for each pair of copies. No place would put a mirror image right: there is none in the verdict."""
    verdicts = []
    for pair, copy in find_copies(scene, pairs):
        gains = {name: mirror(scene, name) for name in (pair.left, pair.right)}
        worse, better = sorted(gains, key=lambda name: -gains[name])
        clear = gains[worse] - gains[better] > CLEAR and gains[worse] > EACH
        decision: Decision = "wrong" if clear else "undecided"
        off = ("off its partner's mirror image [s]", pair.off_s), ("off a copy of its partner [s]", copy)
        # Where it stands: the image takes its own bone's place.
        stands = {name: {name: scene.place(name, scene.standings[name].X_WB)} for name in gains}
        ratings = [
            Rating(f"{worse} mirrored", gains[worse], (("fit gained [s²]", gains[worse]), *off), stands[worse]),
            Rating("as placed", 0.0, off),
            Rating(f"{better} mirrored", gains[better], (("fit gained [s²]", gains[better]), *off), stands[better]),
        ]
        ratings.sort(key=lambda rating: -rating.score)
        shapes = f"the two are copies ({copy:.3f} s off), not mirror images ({pair.off_s:.3f} s)"
        fits = f"mirrored, {worse} gains {gains[worse]:+.2f} s² of fit, {better} {gains[better]:+.2f} s²"
        if decision == "wrong":
            verdicts.append(Verdict("mirrored", (worse,), decision, tuple(ratings), {}, f"{worse}: {shapes}; {fits}"))
            continue
        what = f"{pair.left} or {pair.right}: {shapes}; {fits}: too little to say which"
        verdicts.append(Verdict("mirrored", (pair.left, pair.right), decision, tuple(ratings), {}, what))
    return verdicts


def mirror(scene: Scene, name: str) -> float:
    """How much better a bone's mirror image would fit in its place [s2]."""
    standing = scene.standings[name]
    neighbours = find_neighbours(standing, scene.standings.values())
    now = scene.seat(standing, neighbours).score
    image = scene.shapes.bodies[name].mirrored
    tried = [
        scene.seat(Standing(name, image, standing.X_WB @ way.X_OB), neighbours).score
        for way in scene.shapes.near_ways(name, name, mirrored=True)
    ]
    return max(tried) - now
