"""Vertebrae of a column turned by half and mated again, each for itself: what the audit says of them and beside them.

`python -m tests.turned_column FOLDER` measures the dog whose bones lie in the folder; `--jitter` as placed, every one
turned by 3° about an axis of chance; `--strider SEED` a made-up animal instead.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from scipy.spatial.transform import Rotation

sys.path.insert(0, str(Path(__file__).parents[1] / "demo_blend"))
from strider.animal import make_vertebra_mesh, name_vertebra
from strider.column import plan_column

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.column_seating import seat
from core_calcs.articulation.motions import move_rigidly
from core_calcs.articulation.partner import Partner, prepare_partner
from core_calcs.articulation.turned import AS_PLACED, CELLS_A_SIZE, TURNS, find_turned
from core_calcs.articulation.vertebrae import Vertebra, list_neighbours, prepare_column
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body
from core_calcs.skeleton.verdict import Verdict
from core_calcs.spatial.transforms import make_transform
from tests.dog_column import NAMES, read_vertebrae

ALL = ("C_1", "C_2", *NAMES)
"""Atlas and axis are neighbours too, though they are not tried."""
JITTER_RAD = np.radians(3)
THINNED, STEPS, FARTHEST_S = 4, 41, 0.6
SEEN = 6
"""Elements on each side of a turned one that are taken along: as many as those that it is compared with, and theirs."""


@dataclass(frozen=True, eq=False)
class Column:
    """Elements from the head to the tail and the series of each."""

    elements: tuple[Partner, ...]
    series: tuple[str, ...]

    def index(self, name: str) -> int:
        return [element.name for element in self.elements].index(name)


def read_dog(folder: Path, names: Sequence[str] = ALL) -> Column:
    """The dog's column, or some of it."""
    surfaces = read_vertebrae(folder, set(ALL))
    series = {"C": "cervical", "T": "dorsal", "L": "dorsal", "Sacrum": "sacral", "Ca": "caudal"}
    return _prepare([(name, series[name.split("_")[0]], surfaces[name]) for name in ALL if name in names])


def make_strider_column(seed: int, detail: float = 0.5) -> Column:
    """A quay strider's, from the first neck vertebra to the tip of the tail."""
    planned = plan_column()
    return _prepare([(name_vertebra(v), v.series, Surface(*make_vertebra_mesh(v, seed, detail))) for v in planned])


def _prepare(given: Sequence[tuple[str, str, Surface]]) -> Column:
    elements = []
    for name, _, surface in given:
        repaired, solid = survey_body(surface)
        elements.append(prepare_partner(name, repaired, solid.volume_m3, solid.centre_m, cells_a_size=CELLS_A_SIZE))
    return Column(tuple(elements), tuple(series for _, series, _ in given))


def turn(column: Column, i: int, way: str) -> np.ndarray:
    """(4, 4) by which an element is turned by half about its own centre, along the column's directions there, and slid
    along the column to where it lies inside its neighbours the least; to the middle of where it is free of them.
    """
    near = [column.elements[k] for k in (i - 1, i + 1) if 0 <= k < len(column.elements)]
    axes = column_axes(
        column.elements[max(i - 1, 0)].centre, column.elements[min(i + 1, len(column.elements) - 1)].centre
    )
    F = np.column_stack([axes.head, axes.left, axes.back])
    R = F @ np.diag(np.array(TURNS[way], float)) @ F.T
    own = column.elements[i]
    X = make_transform(R, own.centre - R @ own.centre)
    points = move_rigidly(own, X).samples.points[::THINNED]
    shifts = np.linspace(-FARTHEST_S, FARTHEST_S, STEPS) * own.size
    depths = [
        sum(np.minimum(other.grid.distances(points + axes.head * shift), 0).sum() for other in near) for shift in shifts
    ]
    best = np.flatnonzero(np.array(depths) >= max(depths) - 1e-12)
    return make_transform(np.eye(3), axes.head * shifts[best].mean()) @ X


def seat_turned(column: Sequence[Vertebra], i: int, X: np.ndarray) -> np.ndarray:
    """(4, 4) the same, moved on across the column and tipped to where most of its surface meets its neighbours."""
    own = column[i]
    clouds = [(other.cloud, other.element.size) for other in list_neighbours(column, i).values()]
    about = X[:3, :3] @ own.middle + X[:3, 3]
    return seat(own.cloud, own.element.size, X, about, clouds, own.axes).X


@dataclass(frozen=True)
class Case:
    """What was said of an element that was turned, and of those beside it that were not.

    outcome : right, wrong, abstained; blamed : names of sound neighbours that are said to be wrong
    off_s, off_deg : how far from where it was the audit puts it back, by its centre
    """

    name: str
    way: str
    seated: bool
    outcome: str
    blamed: tuple[str, ...]
    off_s: float
    off_deg: float
    verdict: Verdict


def try_turned(column: Column, case: tuple[int, str, bool]) -> Case:
    """Turn one element and let it and its two neighbours be judged as `find_turned` does."""
    i, way, seated = case
    low, high = max(0, i - SEEN), min(len(column.elements), i + SEEN + 1)
    part = Column(column.elements[low:high], column.series[low:high])
    X = turn(part, i - low, way)
    if seated:
        X = seat_turned(prepare_column(part.elements, part.series), i - low, X)
    elements = [move_rigidly(own, X) if k == i - low else own for k, own in enumerate(part.elements)]
    chosen = [k for k in (i - 1 - low, i - low, i + 1 - low) if 0 <= k < len(elements)]
    told = {verdict.elements[0]: verdict for verdict in find_turned(elements, part.series, chosen=chosen)}
    verdict = told.pop(column.elements[i].name)
    outcome, off_s, off_deg = "abstained", np.nan, np.nan
    if verdict.decision == "wrong":
        outcome = "right" if verdict.ratings[0].way == way else "wrong"
        (back,) = verdict.places.values()
        moved, own = back @ X, column.elements[i]
        off_s = float(np.linalg.norm(moved[:3, :3] @ own.centre + moved[:3, 3] - own.centre)) / own.size
        off_deg = float(np.degrees(Rotation.from_matrix(moved[:3, :3]).magnitude()))
    elif verdict.decision == AS_PLACED:
        outcome = "wrong"
    blamed = tuple(name for name, other in told.items() if other.decision == "wrong")
    return Case(column.elements[i].name, way, seated, outcome, blamed, off_s, off_deg, verdict)


def jitter(column: Column, seed: int) -> Column:
    """Every element turned by 3° about an axis of chance, through its own centre."""
    rng = np.random.default_rng(seed)
    moved = []
    for own in column.elements:
        axis = rng.normal(size=3)
        R = Rotation.from_rotvec(JITTER_RAD * axis / np.linalg.norm(axis)).as_matrix()
        moved.append(move_rigidly(own, make_transform(R, own.centre - R @ own.centre)))
    return Column(tuple(moved), column.series)


def tell(verdict: Verdict) -> str:
    """The three best ways and their figures, short."""
    ways = [f"{r.way} {r.score:.2f} ({' '.join(f'{x:.2f}' for _, x in r.figures)})" for r in verdict.ratings[:3]]
    return f"{verdict.decision}: {' | '.join(ways)}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--strider", type=int)
    parser.add_argument("--jitter", type=int, nargs="*")
    parser.add_argument("--seated", action="store_true")
    parser.add_argument("--names", nargs="*")
    parser.add_argument("--step", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    options = parser.parse_args()
    column = read_dog(options.folder) if options.strider is None else make_strider_column(options.strider)
    if options.jitter is not None:
        for seed in options.jitter:
            for verdict in find_turned(*vars(column if seed == 0 else jitter(column, seed)).values()):
                print(seed, verdict.elements[0], tell(verdict), flush=True)
        return
    chosen = [k for k, own in enumerate(column.elements) if not options.names or own.name in options.names]
    cases = [(i, way, options.seated) for i in chosen[:: options.step] for way in TURNS if way != AS_PLACED]
    with ProcessPoolExecutor(options.workers) as pool:
        for case in pool.map(partial(try_turned, column), cases):
            back = f"off {case.off_s:.2f} s {case.off_deg:.1f} deg"
            print(case.name, case.way, case.outcome, back, "blamed", case.blamed, tell(case.verdict), flush=True)


if __name__ == "__main__":
    main()
