"""The dog's column disturbed as scans are laid out: pushed together, pulled apart and closed up, turned a little.

A pair of neighbours passes where every facet that is found as placed is found again, over samples that agree to .6 with
those of before (of all samples in either, those in both) and with its centroid within .05 s, and no other is. s is the
size of the smaller of the two. `python -m tests.disturbed_column` prints the table of all of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from core_calcs.articulation.closings import find_best_closing
from core_calcs.articulation.column import ColumnAxes, column_axes
from core_calcs.articulation.facets import FoundFacets, find_facets, take_to_rims
from core_calcs.articulation.motions import move_partner
from core_calcs.articulation.partner import Partner
from core_calcs.mesh.distance_grid import build_distance_grid
from core_calcs.mesh.surface import Surface
from tests.dog_column import LABELS, NAMES, SECOND_LABELS, prepare_all, read_labels, read_vertebrae

AGREES, OFF_S = 0.6, 0.05
OVERLAP_S, GAPS_MM, JITTER_RAD, SEEDS = 0.05, range(1, 11), np.radians(5), (1, 2)
CLOSED_GAP_S = 0.05
"""To this gap they are closed up, whatever it was before: nobody knows the true one of a scan."""
LEANS = 0.5
"""Facets whose normal lies within 60° of the column close when the elements are moved along it; others slide."""
PAIRS = tuple(pairwise(NAMES[:31]))
"""C3–C4 to Ca4–Ca5."""
TAIL = tuple(pairwise(NAMES[31:]))
"""Ca6–Ca7 to Ca19–Ca20, which meet by their centra alone."""

Pair = tuple[Partner, Partner]
Reference = dict[tuple[str, str], np.ndarray]
"""By kind and element, indices into the element's samples."""


class Column:
    """The dog's vertebrae, their surfaces, and the facets found as placed."""

    def __init__(self, folder: Path) -> None:
        self.surfaces: dict[str, Surface] = read_vertebrae(folder, set(NAMES))
        self.elements = prepare_all(self.surfaces)
        self.labels = _average_labels()
        self._references: dict[tuple[str, str], Reference] = {}

    def reference(self, pair: tuple[str, str]) -> Reference:
        """Facets of a pair as placed."""
        if pair not in self._references:
            headward, tailward = (self.elements[name] for name in pair)
            self._references[pair] = gather(find_facets(headward, tailward, axes_between(headward, tailward)))
        return self._references[pair]


def axes_between(headward: Partner, tailward: Partner) -> ColumnAxes:
    """Of the joint between two elements as they stand."""
    return column_axes(headward.centre, tailward.centre)


def gather(found: FoundFacets) -> Reference:
    """Samples of every facet."""
    return {(patch.kind, patch.element.name): patch.index for pair in found.pairs for patch in pair}


def leave(column: Column, pair: tuple[str, str]) -> Pair:
    """As placed."""
    return column.elements[pair[0]], column.elements[pair[1]]


def push_together(column: Column, pair: tuple[str, str]) -> Pair:
    """Moved along the column until the deepest sample lies .05 s inside the other element."""
    headward, tailward = leave(column, pair)
    size, head = min(headward.size, tailward.size), axes_between(headward, tailward).head
    low, high = -0.2 * size, size
    for _ in range(14):
        middle = (low + high) / 2
        moved = move_partner(headward, -head * middle)
        depth = max(
            -moved.grid.distances(tailward.samples.points).min(), -tailward.grid.distances(moved.samples.points).min()
        )
        low, high = (middle, high) if depth < OVERLAP_S * size else (low, middle)
    return move_partner(headward, -head * low), tailward


def pull_apart(gap_mm: float, close: bool = True) -> Callable[[Column, tuple[str, str]], Pair]:
    """Moved apart along the column, then closed up along it to a gap of .05 s."""

    def disturb(column: Column, pair: tuple[str, str]) -> Pair:
        headward, tailward = leave(column, pair)
        headward = move_partner(headward, axes_between(headward, tailward).head * gap_mm * 1e-3)
        if close:
            gap = CLOSED_GAP_S * min(headward.size, tailward.size)
            headward = close_up(headward, tailward, gap)
        return headward, tailward

    return disturb


def close_up(headward: Partner, tailward: Partner, gap_m: float) -> Partner:
    """The headward element moved along the column until the closest facets that close by that are so far apart."""
    axes = axes_between(headward, tailward)
    search = find_best_closing(headward, tailward, axes)
    assert search is not None
    closings = []
    for one, other in take_to_rims(search).pairs:
        normal = other.normal - one.normal
        lean = float(normal @ axes.head) / float(np.linalg.norm(normal))
        if lean >= LEANS:
            closings.append(((one.gap_m + other.gap_m) / 2 - gap_m) / lean)
    return move_partner(headward, -axes.head * min(closings))


def jitter(seed: int) -> Callable[[Column, tuple[str, str]], Pair]:
    """The headward element turned by 5° about its own centre, round an axis that the seed draws."""

    def disturb(column: Column, pair: tuple[str, str]) -> Pair:
        headward, tailward = leave(column, pair)
        axis = np.random.default_rng([seed, NAMES.index(pair[0])]).normal(size=3)
        return turn_element(headward, column.surfaces[pair[0]], axis / np.linalg.norm(axis), JITTER_RAD), tailward

    return disturb


def turn_element(element: Partner, surface: Surface, axis: np.ndarray, angle: float) -> Partner:
    """An element turned about its centre, with the same samples and a distance grid of its own."""
    K = np.cross(axis, np.eye(3)).T
    R = np.eye(3) + np.sin(angle) * K + (1 - np.cos(angle)) * K @ K

    def turn(points: np.ndarray) -> np.ndarray:
        return (points - element.centre) @ R.T + element.centre

    samples = replace(element.samples, points=turn(element.samples.points), normals=element.samples.normals @ R.T)
    turned = Surface(turn(surface.vertices), surface.faces)
    grid = build_distance_grid(turned, element.grid.cell)
    return replace(element, samples=samples, grid=grid, surface=turned)


TRIALS: dict[str, tuple[tuple[Callable[[Column, tuple[str, str]], Pair], ...], float]] = {
    "as placed": ((leave,), 0.95),
    "overlap of .05 s": ((push_together,), 0.95),
    **{f"{gap} mm apart, closed up": ((pull_apart(gap),), 0.95) for gap in GAPS_MM},
    "5° of jitter": (tuple(jitter(seed) for seed in SEEDS), 0.85),
}
"""What is done, and the share of pairs that are required to pass."""


@dataclass(frozen=True)
class Faults:
    """What is wrong with a pair's facets, in words: held against those found as placed, centroids by labels."""

    placed: tuple[str, ...]
    labels: tuple[str, ...]


def find_faults(column: Column, pair: tuple[str, str], disturbed: Pair) -> Faults:
    """Hold the facets found on a disturbed pair against those found as placed, and against the mean of two hands."""
    elements = {name: column.elements[name] for name in pair}
    size = min(element.size for element in elements.values())
    got, reference = gather(find_facets(*disturbed, axes_between(*disturbed))), column.reference(pair)
    both = [f"{kind} of {name} is made up" for kind, name in got if (kind, name) not in reference]
    both += [f"{kind} of {name} is missed" for kind, name in reference if (kind, name) not in got]
    faults: dict[str, list[str]] = {"placed": list(both), "labels": list(both)}
    for (kind, name), index in reference.items():
        if (there := got.get((kind, name))) is None:
            continue
        points = elements[name].samples.points
        agrees = len(np.intersect1d(there, index)) / len(np.union1d(there, index))
        truths = {"placed": points[index].mean(axis=0), "labels": column.labels[*pair, kind, name]}
        for against, truth in truths.items():
            off = float(np.linalg.norm(points[there].mean(axis=0) - truth)) / size
            if agrees < AGREES or off > OFF_S:
                faults[against].append(f"{kind} of {name} agrees to {agrees:.2f}, {off:.3f} s off")
    return Faults(tuple(faults["placed"]), tuple(faults["labels"]))


def run_trial(column: Column, trial: str, pairs=PAIRS) -> list[tuple[tuple[str, str], Faults]]:
    """Every pair that was tried, once for each disturbance of the trial, and what was wrong with it."""
    disturbances, _ = TRIALS[trial]
    return [(pair, find_faults(column, pair, disturb(column, pair))) for disturb in disturbances for pair in pairs]


def _average_labels() -> dict[tuple[str, str, str, str], np.ndarray]:
    """Mean centroid of the two hands by headward element, tailward element, kind and element."""
    hands: dict[tuple[str, str, str, str], list] = {}
    for path in (LABELS, SECOND_LABELS):
        for joint in read_labels(path):
            for facet in joint["facets"]:
                key = (joint["child"], joint["parent"], facet["kind"], facet["element"])
                hands.setdefault(key, []).append(facet["centroid_m"])
    return {key: np.mean(both, axis=0) for key, both in hands.items()}


if __name__ == "__main__":
    dog = Column(Path(__file__).parents[1] / ".cache" / "dog")
    for name, (_, required) in TRIALS.items():
        tried = run_trial(dog, name)
        sound = [sum(not getattr(faults, against) for _, faults in tried) for against in ("placed", "labels")]
        outcome = f"{sound[0]} as placed, {sound[1]} by labels"
        print(f"{name:24} of {len(tried)}: {outcome} (required {required:.0%})", flush=True)
        for pair, faults in tried:
            if faults.placed or faults.labels:
                told = [f"{'; '.join(faults.placed) or 'none'}", f"by labels: {'; '.join(faults.labels) or 'none'}"]
                print(f"    {pair[0]}–{pair[1]}: {', '.join(told)}")
