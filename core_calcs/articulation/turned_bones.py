"""Bones of limbs that stand turned by half a turn: end for end, or rolled about their length.

The partner's mirror image is laid upon the bone. Where that takes it half a turn away from the way in which the bones
beside it are laid upon by their partners, one of the two stands turned; which, the fit tells. A bone that is the same
after half a turn can be laid either way, and nothing is said of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from ..skeleton.verdict import Decision, Rating, Verdict
from ..spatial.transforms import Array, invert, make_transform
from .bones import MIRROR, Body
from .pairs import ALIKE, LIKER, ODD, Pair, Scene
from .registration import HALVES, Way
from .seating import Standing, find_neighbours

CLEAR, EACH = 0.30, 0.20
"""The one that gains fit by being turned back, so much more of s² than the other and so much itself, is turned."""
_TURNED_RAD, _TOGETHER_RAD = float(np.radians(120)), float(np.radians(75))
"""Farther from its neighbours than this it is turned; nearer than that they are posed otherwise left and right."""
_FEWEST = 2
"""So many bones beside it must tell how the limb is posed."""
_FLIP = np.diag([*MIRROR, 1.0])


@dataclass(frozen=True, eq=False)
class Turned:
    """A pair of which one stands turned: the closest way of its shapes, and the one in which its neighbours lie."""

    pair: Pair
    closest: Way
    expected: Way

    @property
    def angle_deg(self) -> float:
        """Between the two."""
        return float(np.degrees(_find_angle(self.closest.X_OB[:3, :3], self.expected.X_OB[:3, :3])))


def find_turned_bones(scene: Scene, pairs: Sequence[Pair]) -> list[Turned]:
    """Pairs whose shapes lie upon each other otherwise than those of the bones beside them."""
    of_left = {pair.left: pair for pair in scene.pairs}
    lies = {pair: _find_turn(scene, pair, _lay(scene, pair)[0]) for pair in scene.pairs}
    found = []
    for pair in pairs:
        beside = [lies[of_left[name]] for name in _find_beside(scene, pair.left) if name in of_left]
        if len(beside) < _FEWEST:
            continue
        ways = _lay(scene, pair)
        off = [np.median([_find_angle(_find_turn(scene, pair, way), turn) for turn in beside]) for way in ways]
        expected = int(np.argmin(off))
        if off[0] < _TURNED_RAD or off[expected] > _TOGETHER_RAD:
            continue
        close, far = ways[0].off_s, ways[expected].off_s
        if far > max(LIKER * close, ODD * scene.usual_off_s) and close < ALIKE * scene.usual_off_s:
            found.append(Turned(pair, ways[0], ways[expected]))
    return found


def audit_turned(scene: Scene, pairs: Sequence[Pair]) -> tuple[list[Verdict], dict[str, Standing]]:
    """One verdict for each pair of which one is turned, and how it would stand right."""
    verdicts, moved = [], {}
    for turned in find_turned_bones(scene, pairs):
        gains, there = turn_back(scene, turned)
        worse, better = sorted(gains, key=lambda name: -gains[name])
        clear = gains[worse] - gains[better] > CLEAR and gains[worse] > EACH
        decision: Decision = "wrong" if clear else "undecided"
        off = "off its partner's mirror image [s]"
        places = {name: {name: scene.place(name, standing.X_WB)} for name, standing in there.items()}
        ratings = [
            Rating(f"{name} turned", gain, (("fit gained [s²]", gain), (off, turned.closest.off_s)), places[name])
            for name, gain in gains.items()
        ]
        ratings.append(Rating("as placed", 0.0, ((off, turned.expected.off_s),)))
        ratings.sort(key=lambda rating: -rating.score)
        told = (
            f"posed as those beside it, it is {turned.expected.off_s:.3f} s off its partner's mirror image, turned by "
            f"{turned.angle_deg:.0f}° {turned.closest.off_s:.3f} s; turned, {worse} gains {gains[worse]:+.2f} s² of "
            f"fit, {better} {gains[better]:+.2f} s²"
        )
        if decision == "wrong":
            verdicts.append(Verdict("turned", (worse,), decision, tuple(ratings), places[worse], f"{worse}: {told}"))
            moved[worse] = there[worse]
            continue
        what = f"{turned.pair.left} or {turned.pair.right}: {told}: too little to say which"
        verdicts.append(Verdict("turned", (turned.pair.left, turned.pair.right), decision, tuple(ratings), {}, what))
    return verdicts, moved


def turn_back(scene: Scene, turned: Turned) -> tuple[dict[str, float], dict[str, Standing]]:
    """How much better either fits turned so that the two lie as their neighbours do [s2], and where it stands then."""
    pair, X_closest, X_expected = turned.pair, turned.closest.X_OB, turned.expected.X_OB
    turns = {
        pair.left: X_expected @ invert(X_closest),
        pair.right: _FLIP @ invert(X_expected) @ X_closest @ _FLIP,
    }
    gains, there = {}, {}
    for name, D in turns.items():
        standing = scene.standings[name]
        backs = [scene.stand(name, standing.X_WB @ turn) for turn in (D, _find_half(scene.shapes.bodies[name], D))]
        # Those that it meets either way: turned end for end, a bone may not reach to its true neighbours.
        near = {n.name: n for one in (standing, *backs) for n in find_neighbours(one, scene.standings.values())}
        neighbours = tuple(near.values())
        seat = max((scene.seat(back, neighbours) for back in backs), key=lambda seat: seat.score)
        gains[name] = seat.score - scene.seat(standing, neighbours).score
        there[name] = scene.stand(name, seat.X_WB)
    return gains, there


def _find_half(body: Body, D: Array) -> Array:
    """(4, 4) the half turn about a principal axis, through the centre, that a turn comes nearest to."""
    turns = [body.axes @ half @ body.axes.T for half in HALVES[1:]]
    return make_transform(min(turns, key=lambda turn: _find_angle(turn, D[:3, :3])), np.zeros(3))


def _lay(scene: Scene, pair: Pair) -> tuple[Way, ...]:
    return scene.shapes.lay(pair.right, pair.left, mirrored=True)


def _find_turn(scene: Scene, pair: Pair, way: Way) -> Array:
    """(3, 3) how the right bone is mirrored and turned to lie upon the left one, in the world."""
    left, right = (scene.standings[name].X_WB[:3, :3] for name in (pair.left, pair.right))
    turn: Array = left @ way.X_OB[:3, :3] @ np.diag(MIRROR) @ right.T
    return turn


def _find_beside(scene: Scene, name: str) -> set[str]:
    """Bones beside one, and beside those."""
    near = find_neighbours(scene.standings[name], scene.standings.values())
    second = [far for one in near for far in find_neighbours(one, scene.standings.values())]
    return {one.name for one in (*near, *second)} - {name}


def _find_angle(one: Array, other: Array) -> float:
    """Between two turns [rad]."""
    return float(Rotation.from_matrix(one @ other.T).magnitude())
