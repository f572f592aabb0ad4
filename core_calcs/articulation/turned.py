"""Vertebrae that stand the wrong way round: each tried in its column turned by half, seated afresh, and rated.

Four things tell how an element belongs, each worth between 0 and 1, and a way's score is their sum: over how much of
their area its zygapophyses meet its neighbours'; how much of its surface meets its neighbours; whether its neural canal
lies dorsal to its centrum; how like it is to others of its series.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..inspection.clouds import measure_difference
from ..skeleton.verdict import Decision, Rating, Verdict
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import Array, invert, make_transform
from .column import column_axes
from .column_seating import Seat, seat
from .facet_cores import SIDES, search_cores
from .motions import move_rigidly
from .partner import Partner
from .vertebra_shape import UNCERTAINTY_S
from .vertebrae import Vertebra, find_ends, list_neighbours, move_vertebra, prepare_column

AS_PLACED = "as placed"
TURNS = {
    AS_PLACED: (1, 1, 1),
    "end for end": (-1, -1, 1),
    "upside down": (1, -1, -1),
    "end for end and upside down": (-1, 1, -1),
}
"""In words, and the signs of its axes along the column, to the left and to the back."""
CLEAR = 0.5
"""By so much a way must score more than any other to be said to be right."""
REACH = 3
"""Elements of its series on each side that it is compared with."""
CELLS_A_SIZE = 28
"""Nodes of the distance grid a size of an element that is made ready for the audit: depths are no matter here."""
RING = "cannot be told: it is a ring without a centrum, as an atlas is, built in another way than its neighbours"
_CANAL_S = 0.15
"""A canal that lies nearer to the centrum's middle tells nothing (share of s)."""


@dataclass(frozen=True, eq=False)
class _Trial:
    """One way that an element may stand, seated.

    X : (4, 4) motion of the world that takes it there
    meets_s2 : surface that meets its neighbours
    canal_s : height of its canal above the centrum; None where none is seen
    differs_s : mean difference from others of its series; None where there are none
    facets_s2 : by which neighbour (its number) and side, the area over which a zygapophysis meets a neighbour's; None
        where they were not looked for, because the way is beaten without
    """

    way: str
    X: Array
    meets_s2: float
    canal_s: float | None
    differs_s: float | None
    facets_s2: dict[tuple[int, int], float] | None = None


def find_turned(
    elements: Sequence[Partner],
    series: Sequence[str],
    progress: Progress = ignore_progress,
    chosen: Sequence[int] | None = None,
) -> tuple[Verdict, ...]:
    """What is said of elements of a column, given from the head to the tail, as it stands in the world.

    The clearest that stands wrong is put right first and those beside it are judged anew: what stands beside a turned
    one shall not be blamed for it.

    Parameters
    ----------
    series : of each; elements are compared with others of theirs
    chosen : numbers of those that are to be judged; all where None

    Returns
    -------
    Verdicts in the order of the elements that are judged; their `places` are motions (4, 4) of the world

    Raises
    ------
    SkeletonError : as `vertebrae.prepare_column`
    """
    return judge_column(prepare_column(elements, series), progress, chosen)[0]


def judge_column(
    column: Sequence[Vertebra], progress: Progress = ignore_progress, chosen: Sequence[int] | None = None
) -> tuple[tuple[Verdict, ...], list[Vertebra]]:
    """What `find_turned` says of a column, and the column with what stands wrong put right."""
    found: dict[int, Verdict] = {}
    right: set[int] = set()
    column = list(column)
    judged = list(range(len(column))) if chosen is None else sorted(chosen)
    waiting = judged
    while waiting:
        for k, i in enumerate(waiting):
            progress(f"turning {column[i].element.name}", k / len(waiting))
            found[i] = judge_vertebra(column, i)
        wrong = [i for i in found if found[i].decision == "wrong" and i not in right]
        if not wrong:
            break
        clearest = _pick_clearest(column, found, wrong)
        right.add(clearest)
        column = _put_right(column, clearest, found[clearest])
        waiting = [i for i in (clearest - 1, clearest + 1) if i in judged and i not in right]
    return tuple(found[i] for i in judged), column


def _pick_clearest(column: Sequence[Vertebra], found: Mapping[int, Verdict], wrong: Sequence[int]) -> int:
    """The one that leads by most; where those beside it are said to be wrong too, the one that explains them best.

    Two that face each other, the one sound and the other turned, may both fit better when they are turned. Put right is
    the one beside which the other then fits best as it is placed.
    """
    first = max(wrong, key=lambda i: _find_lead(found[i].ratings))
    rivals = [i for i in (first - 1, first, first + 1) if i in wrong]
    if len(rivals) == 1:
        return first

    def explain(i: int) -> float:
        changed = _put_right(column, i, found[i])
        others = [judge_vertebra(changed, k) for k in rivals if k != i]
        return found[i].ratings[0].score + sum(_find_score(other, AS_PLACED) for other in others)

    return max(rivals, key=explain)


def _put_right(column: Sequence[Vertebra], i: int, verdict: Verdict) -> list[Vertebra]:
    (X,) = verdict.places.values()
    return move_vertebra(column, i, X)


def _find_score(verdict: Verdict, way: str) -> float:
    return next(rating.score for rating in verdict.ratings if rating.way == way)


def judge_vertebra(column: Sequence[Vertebra], i: int) -> Verdict:
    """What is said of one of a column; its place is a motion (4, 4) of the world."""
    trials = {trial.way: trial for trial in _list_trials(column, i)}
    name = column[i].element.name
    ratings = _rate(name, list(trials.values()))
    ring = column[i].shape.is_ring
    best, clear = ratings[0], _find_lead(ratings) >= CLEAR and not ring
    decision: Decision = "undecided"
    if clear:
        decision = "as placed" if best.way == AS_PLACED else "wrong"
    places = {name: trials[best.way].X} if decision == "wrong" else {}
    return Verdict("turned", (name,), decision, ratings, places, RING if ring else _tell(trials, ratings, clear))


def _find_lead(ratings: Sequence[Rating]) -> float:
    return ratings[0].score - ratings[1].score


def _list_trials(column: Sequence[Vertebra], i: int) -> list[_Trial]:
    """All ways; zygapophyses are looked for in those that may win, or come near, if all of theirs meet."""
    trials = [_try_way(column, i, way) for way in TURNS]
    bare = {rating.way: rating.score for rating in _rate(column[i].element.name, trials)}
    enough = max(bare.values()) - CLEAR - 1.0
    return [
        replace(trial, facets_s2=_search_facets(column, i, trial.X)) if bare[trial.way] > enough else trial
        for trial in trials
    ]


def _try_way(column: Sequence[Vertebra], i: int, way: str) -> _Trial:
    signs, size, canal = np.array(TURNS[way], float), column[i].element.size, column[i].shape.canal_m
    seated = _seat(column, i, signs)
    return _Trial(
        way,
        seated.X,
        seated.meets_m2 / size**2,
        None if canal is None else float(signs[2]) * canal / size,
        _measure_difference(column, i, signs),
    )


def _search_facets(column: Sequence[Vertebra], i: int, X: Array) -> dict[tuple[int, int], float]:
    """Areas of the zygapophyses by which one of a column, moved by X (4, 4), meets its neighbours."""
    own = column[i]
    facets: dict[tuple[int, int], float] = {}
    there = move_rigidly(own.element, X)
    for k, other in list_neighbours(column, i).items():
        ends = (other.element, there) if k < i else (there, other.element)
        search = search_cores(*ends, column_axes(ends[0].centre, ends[1].centre, own.axes), 0.0)
        facets |= {(k, side): search.area_s2(kind) for side, kind in SIDES.items()}
    return facets


def _seat(column: Sequence[Vertebra], i: int, signs: Array) -> Seat:
    """Seated from where its centrum lies between its neighbours'; as placed from where it stands too."""
    own = column[i]
    clouds = [(other.cloud, other.element.size) for other in list_neighbours(column, i).values()]
    headward, tailward = find_ends(column, i)
    middle, axes = (headward + tailward) / 2, column_axes(headward, tailward, own.axes)
    target = make_transform(np.column_stack([axes.head, axes.left, axes.back]), middle)
    X = target @ make_transform(np.diag(signs), np.zeros(3)) @ invert(own.shape.X_WV)
    seated = seat(own.cloud, own.element.size, X, middle, clouds, axes)
    if (signs > 0).all():
        as_it_is = seat(own.cloud, own.element.size, np.eye(4), own.middle, clouds, own.axes)
        seated = max(seated, as_it_is, key=lambda seat: seat.meets_m2)
    return seated


def _measure_difference(column: Sequence[Vertebra], i: int, signs: Array) -> float | None:
    """Mean difference from others of its series, each in its own size; None where there are none."""
    near = range(max(0, i - REACH), min(len(column), i + REACH + 1))
    alike = [column[k] for k in near if k != i and column[k].series == column[i].series]
    others = [other.form for other in alike if not other.shape.is_ring]
    if not others:
        return None
    return float(np.mean([measure_difference(*column[i].other_form, *other, signs) for other in others]))


def _rate(name: str, trials: Sequence[_Trial]) -> tuple[Rating, ...]:
    """Scores of an element's ways, each the sum of what speaks for it, the best first; places are motions."""
    most = max(max(trial.meets_s2 for trial in trials), 1e-9)
    least = min((trial.differs_s for trial in trials if trial.differs_s is not None), default=None)
    widest: dict[tuple[int, int], float] = {}
    for trial in trials:
        for key, area in (trial.facets_s2 or {}).items():
            widest[key] = max(area, widest.get(key, 0.0))
    ratings = []
    for trial in trials:
        shares = [area / widest[key] for key, area in (trial.facets_s2 or {}).items() if area > 0]
        facets = sum(shares) / max(len(widest), 1)
        canal = 0.5 if trial.canal_s is None or abs(trial.canal_s) < _CANAL_S else float(trial.canal_s > 0)
        likeness = 1.0
        if least is not None and trial.differs_s is not None:
            likeness = (least + UNCERTAINTY_S) / (trial.differs_s + UNCERTAINTY_S)
        score = facets + max(trial.meets_s2, 0.0) / most + canal + likeness
        places = {} if trial.way == AS_PLACED else {name: trial.X}
        ratings.append(Rating(trial.way, score, _list_figures(trial), places))
    return tuple(sorted(ratings, key=lambda rating: -rating.score))


def _list_figures(trial: _Trial) -> tuple[tuple[str, float], ...]:
    figures = [("surface that meets [s²]", trial.meets_s2)]
    if trial.facets_s2 is not None:
        met = [area for area in trial.facets_s2.values() if area > 0]
        figures += [("zygapophyses that meet", float(len(met))), ("their area [s²]", sum(met))]
    if trial.canal_s is not None:
        figures.append(("canal dorsal to the centrum by [s]", trial.canal_s))
    if trial.differs_s is not None:
        figures.append(("difference from its series [s]", trial.differs_s))
    return tuple(figures)


def _tell(trials: dict[str, _Trial], ratings: Sequence[Rating], clear: bool) -> str:
    first, second = ratings[0], ratings[1]
    if not clear:
        return (
            f"cannot be told: {first.way} scores {first.score:.2f}, {second.way} {second.score:.2f}, and a way is "
            f"clear that scores {CLEAR} more than any other"
        )
    other = second if first.way == AS_PLACED else next(rating for rating in ratings if rating.way == AS_PLACED)
    words = [f"{first.way} it scores {first.score:.2f}, {other.way} {other.score:.2f}"]
    one, two = trials[first.way], trials[other.way]
    if one.facets_s2 is not None and two.facets_s2 is not None:
        areas = (sum(one.facets_s2.values()), sum(two.facets_s2.values()))
        words.append(f"its zygapophyses meet its neighbours' over {areas[0]:.2f} s² ({other.way} {areas[1]:.2f} s²)")
    if one.canal_s is not None and two.canal_s is not None and one.canal_s * two.canal_s < 0:
        sides = [_tell_side(canal) for canal in (one.canal_s, two.canal_s)]
        words.append(f"the neural canal lies {sides[0]} to the centrum ({other.way} {sides[1]} to it)")
    if one.differs_s is not None and two.differs_s is not None:
        words.append(f"it differs from its series by {one.differs_s:.3f} s ({other.way} {two.differs_s:.3f} s)")
    return "; ".join(words)


def _tell_side(canal_s: float) -> str:
    return "dorsal" if canal_s > 0 else "ventral"
