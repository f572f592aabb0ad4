"""Left or right: whether each of two partners fits its neighbours better than the other would in its place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..skeleton.verdict import Decision, Rating, Verdict
from ..spatial.progress import Progress, ignore_progress
from .congruence import compare_joints
from .pairs import Pair, Scene
from .seating import Standing, find_neighbours

LEAST_SIDED_S = 0.015
"""A bone that can be laid so close upon its partner tells no side."""
SIDED = 1.5
"""Nor does one that can be laid closer upon it than so many times what partners differ by."""
CLEAR = 0.18
"""Left and right stand exchanged where each would fit better in the other's place, by so much of s² on the mean …"""
EACH = 0.05
"""… and either by so much; …"""
CLOSING = 0.02
"""… and where the joints of either would close by such a share: a bone that lies inside another gains by any move."""
LESS_CLEAR, CLOSER, CLOSER_EACH = 0.08, 0.10, 0.05
"""Less fit will do, on the mean, where they close by more: by such a share on the mean, and either by so much."""
LEAST_NEIGHBOURS, ENOUGH_NEIGHBOURS = 2, 3
"""So many a bone must have to be judged; and by closeness so many: two hinges fit a bone and its mirror image."""


@dataclass(frozen=True, eq=False)
class Trial:
    """A pair as it stands, and exchanged.

    sided_s : how far the two differ, laid upon each other
    gains : how much better each place is filled as it is, left and right [s2]; empty where that was not tried
    closeness : by what share the joints of each place are closer as it is, left and right
    neighbours : of that place which has fewest
    there : where they would stand, exchanged, by name
    untold : why it was not tried; empty where it was
    """

    pair: Pair
    sided_s: float
    gains: tuple[float, ...]
    closeness: tuple[float, ...]
    neighbours: int
    there: dict[str, Standing]
    untold: str = ""

    @property
    def gain(self) -> float:
        """The mean of both."""
        return sum(self.gains) / len(self.gains)

    @property
    def decision(self) -> Decision:
        """By the rule above."""
        if not self.gains:
            return "undecided"
        if self._favours(-1):
            return "wrong"
        return "as placed" if self._favours(1) else "undecided"

    def _favours(self, sign: int) -> bool:
        """Whether it is clearly the one (1: as placed) or the other (-1)."""
        gain, least = sign * self.gain, min(sign * gain for gain in self.gains)
        close = [sign * share for share in self.closeness]
        if gain >= CLEAR and least >= EACH and min(close) >= CLOSING:
            return True
        enough = self.neighbours >= ENOUGH_NEIGHBOURS and gain >= LESS_CLEAR and least >= EACH
        return enough and sum(close) / len(close) >= CLOSER and min(close) >= CLOSER_EACH


def audit_sides(scene: Scene, pairs: Sequence[Pair], progress: Progress = ignore_progress) -> tuple[Verdict, ...]:
    """One verdict for each pair. What is found exchanged is put right before its neighbours are judged, the clearest
    first."""
    trials: dict[Pair, Trial] = {}
    for i, pair in enumerate(pairs):
        progress(f"trying {pair.left} on the right", i / len(pairs))
        trials[pair] = try_sides(scene, pair)
    settled: set[Pair] = set()
    while wrong := [t for t in trials.values() if t.decision == "wrong" and t.pair not in settled]:
        worst = min(wrong, key=lambda trial: trial.gain)
        settled.add(worst.pair)
        beside = {
            near.name
            for name in (worst.pair.left, worst.pair.right)
            for near in find_neighbours(scene.standings[name], scene.standings.values())
        }
        # The place keeps its name: whoever is beside it meets the other bone there.
        scene = scene.move(worst.there)
        for pair in trials:
            if pair not in settled and beside & {pair.left, pair.right}:
                trials[pair] = try_sides(scene, pair)
    return tuple(tell(scene, trial) for trial in trials.values())


def try_sides(scene: Scene, pair: Pair) -> Trial:
    """Seat both as they stand, and each in the other's place."""
    ways = {name: scene.shapes.lay(name, other) for name, other in ((pair.left, pair.right), (pair.right, pair.left))}
    sided = min(found[0].off_s for found in ways.values())
    least = max(LEAST_SIDED_S, SIDED * scene.usual_off_s)
    if sided < least:
        alike = f"laid upon each other the two differ by {sided:.3f} s, less than {least:.3f} s"
        return Trial(pair, sided, (), (), 0, {}, f"{alike}: too like its mirror image to tell left from right")
    gains, closeness, counts, there = [], [], [], {}
    for here, other in ((pair.left, pair.right), (pair.right, pair.left)):
        standing = scene.standings[here]
        neighbours = find_neighbours(standing, scene.standings.values())
        if len(neighbours) < LEAST_NEIGHBOURS:
            beside = f"{here} has fewer than {LEAST_NEIGHBOURS} bones beside it"
            return Trial(pair, sided, (), (), 0, {}, f"{beside}: nothing tells left from right by its fit")
        now = scene.seat(standing, neighbours)
        tried = [
            scene.seat(scene.stand(other, standing.X_WB @ way.X_OB), neighbours)
            for way in scene.shapes.near_ways(other, here)
        ]
        best = max(tried, key=lambda seat: seat.score)
        gains.append(now.score - best.score)
        closeness.append(compare_joints(best.joints, now.joints))
        counts.append(len(neighbours))
        there[other] = scene.stand(other, best.X_WB)
    return Trial(pair, sided, tuple(gains), tuple(closeness), min(counts), there)


def tell(scene: Scene, trial: Trial) -> Verdict:
    """The verdict on a pair, with its figures."""
    names, decision = (trial.pair.left, trial.pair.right), trial.decision
    differ = ("the two differ by, laid upon each other [s]", trial.sided_s)
    if not trial.gains:
        return Verdict("exchanged", names, decision, (Rating("as placed", 0.0, (differ,)),), {}, trial.untold)
    left, right = trial.gains
    places = {name: scene.place(name, standing.X_WB) for name, standing in trial.there.items()}
    ratings = [
        Rating("as placed", 0.0, (differ,)),
        Rating(
            "left and right exchanged",
            -trial.gain,
            (
                ("on the left [s²]", -left),
                ("on the right [s²]", -right),
                ("closeness gained on the left", -trial.closeness[0]),
                ("closeness gained on the right", -trial.closeness[1]),
            ),
            places,
        ),
    ]
    told = (
        f"{-left:+.2f} s² of fit on the left, {-right:+.2f} s² on the right, and their joints close by "
        f"{-100 * trial.closeness[0]:+.0f} % and {-100 * trial.closeness[1]:+.0f} %"
    )
    if decision != "wrong":
        what = f"exchanged they gain {told}"
        return Verdict("exchanged", names, decision, tuple(ratings), {}, what)
    what = f"{names[0]} and {names[1]} fit better in each other's place: they gain {told}"
    return Verdict("exchanged", names, decision, tuple(reversed(ratings)), places, what)
