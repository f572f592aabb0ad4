"""Faults of a mount planted in a quay strider: bones that stand turned, mirrored, or in each other's place.

What is drawn and how it is laid was written down before the audit was tried on any of it, and shares nothing with it.

Scans are named by where they stand, as in a mount that is scanned: of two exchanged each file holds the other bone.
A vertebra is turned about the middle of its centrum, where the rod goes through, or threaded in another's place. A
bone of limb or girdle is laid into another's place as close upon it as it will go, less 1° and half a millimetre
(swapped_bones.py); turned by half it fills the box that it stood in; mirrored it lies upon itself.

Left out by rule is what changes nothing: two vertebrae whose planned sizes differ by less than a fiftieth, and a bone
that lies within .02 s (root mean square) of what belongs there, as those do that are their own mirror images. Nobody
takes a bone for one of three times its volume. Not looked at by the audit, and not planted: skull, ribs, chevrons.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

sys.path.insert(0, str(Path(__file__).parents[1]))
from strider import damage
from strider.column import LAST_FACETS, Vertebra, plan_column
from strider.faults import Bench, name_partner
from strider.scans import Scan
from swapped_bones import Swap, exchange, lay_onto

from core_calcs.mesh.samples import sample_surface
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body

Array = np.ndarray
WAYS = {"end for end": (-1, -1, 1), "upside down": (1, -1, -1), "end for end and upside down": (-1, 1, -1)}
"""Signs of a vertebra's axes, to the head, to the left and to the back, by which it is turned."""
LEAST_STEP, LEAST_CHANGE_S, TIMES = 0.02, 0.02, 3.0
FARTHEST = 4
"""Two vertebrae that are exchanged and are no neighbours stand at most so many places apart."""
SAMPLES = 8000


@dataclass(frozen=True)
class MountFault:
    """kind : as in KINDS; says : the audit's word for it; elements : by the names of their places; way : turned how"""

    kind: str
    says: str
    elements: tuple[str, ...]
    way: str = ""


def plant_mount_faults(scans: Sequence[Scan], seed: int) -> tuple[list[Scan], list[MountFault]]:
    """One fault of every kind, apart from each other, in elements drawn from the seed."""
    bench = Bench({scan.row["element"]: scan for scan in scans}, np.random.default_rng([seed, 7]))
    faults = [MountFault(kind, says, *plant(bench)) for kind, (says, plant) in KINDS.items()]
    return list(bench.scans.values()), faults


Planted = tuple[tuple[str, ...], str]
Plant = Callable[[Bench], Planted]


def turn_vertebra(way: str, jointed: bool) -> Plant:
    """One between two others; jointed: with zygapophyses, or at the end of the tail, which has none."""

    def plant(bench: Bench) -> Planted:
        column = _plan()
        names = [name for name in list(column)[1:-1] if name != "sacrum" and _is_jointed(column[name]) == jointed]
        name = bench.draw(names)
        turned = way or list(WAYS)[int(bench.rng.integers(len(WAYS)))]
        X_WV = column[name].shape.X_WV
        D = np.diag([*map(float, WAYS[turned]), 1.0])
        bench.scans[name] = _move(bench.scans[name], X_WV @ D @ np.linalg.inv(X_WV))
        return (name,), turned

    return plant


def exchange_vertebrae(nearest: int, farthest: int) -> Plant:
    """Two of a series, so many places apart."""

    def plant(bench: Bench) -> Planted:
        column = _plan()
        pairs = [
            (a, b)
            for a, b in combinations(column, 2)
            if column[a].series == column[b].series
            and nearest <= column[b].number - column[a].number <= farthest
            and abs(np.log(_size(column[a]) / _size(column[b]))) >= LEAST_STEP
        ]
        one, other = _draw_pair(bench, pairs, lambda a, b: True)
        X_WA, X_WB = column[one].shape.X_WV, column[other].shape.X_WV
        there = _move(bench.scans[one], X_WB @ np.linalg.inv(X_WA))
        here = _move(bench.scans[other], X_WA @ np.linalg.inv(X_WB))
        _put(bench, one, here)
        _put(bench, other, there)
        return (one, other), ""

    return plant


def exchange_sides(bench: Bench) -> Planted:
    names = [name for name in _list_paired(bench) if name.endswith(" left")]
    return _exchange(bench, "side", [(name, name_partner(name)) for name in names])


def exchange_within(limb: str, row: str) -> Plant:
    """Two of one hand or foot, whose places are beside each other in a row of rays, or follow each other in a ray."""

    def plant(bench: Bench) -> Planted:
        pairs = []
        for side in ("left", "right"):
            rays = [
                [f"{row} {k} {side}", *(f"{limb} phalanx {k}-{n} {side}" for n in range(1, 6))] for k in range(1, 5)
            ]
            held = [[name for name in ray if name in bench.scans] for ray in rays]
            pairs += [pair for ray in held for pair in pairwise(ray[1:])]
            pairs += [pair for a, b in pairwise(held) for pair in zip(a, b, strict=False)]
        return _exchange(bench, "ray", pairs)

    return plant


def mirror_bone(bench: Bench) -> Planted:
    """The scan of one was mirrored."""

    def try_one(name: str) -> Scan | None:
        image = damage.mirror(bench.scans[name])
        laid = _move(image, lay_onto(_surface(image), _surface(bench.scans[name])))
        return laid if _measure_change(laid, bench.scans[name]) >= LEAST_CHANGE_S else None

    return _change_one(bench, try_one), ""


def turn_bone(endwise: bool) -> Plant:
    """About its longest principal axis, or across it."""

    def plant(bench: Bench) -> Planted:
        def try_one(name: str) -> Scan | None:
            scan = bench.scans[name]
            axes = np.linalg.eigh(np.cov(scan.vertices.T))[1]
            along = scan.vertices @ axes
            middle = axes @ (along.min(axis=0) + along.max(axis=0)) / 2
            axis = axes[:, int(bench.rng.integers(2)) if endwise else 2]
            R = 2 * np.outer(axis, axis) - np.eye(3)
            turned = replace(scan, vertices=middle + (scan.vertices - middle) @ R.T)
            return turned if _measure_change(turned, scan) >= LEAST_CHANGE_S else None

        return _change_one(bench, try_one), ""

    return plant


KINDS: dict[str, tuple[str, Plant]] = {
    **{f"vertebra {way}": ("turned", turn_vertebra(way, True)) for way in WAYS},
    "vertebra turned, end of the tail": ("turned", turn_vertebra("", False)),
    "neighbours in the column exchanged": ("exchanged", exchange_vertebrae(1, 1)),
    "vertebrae exchanged farther apart": ("exchanged", exchange_vertebrae(2, FARTHEST)),
    "left for right": ("exchanged", exchange_sides),
    "bones of a hand exchanged": ("exchanged", exchange_within("hand", "metacarpal")),
    "bones of a foot exchanged": ("exchanged", exchange_within("foot", "metatarsal")),
    "bone mirrored": ("mirrored", mirror_bone),
    "bone end for end": ("turned", turn_bone(True)),
    "bone rolled": ("turned", turn_bone(False)),
}
"""What the audit should say of it, and how it is planted."""


def _plan() -> dict[str, Vertebra]:
    """The column by the names of its elements, from the head."""
    return {"sacrum" if v.series == "sacral" else f"{v.series} {v.number}": v for v in plan_column()}


def _is_jointed(vertebra: Vertebra) -> bool:
    return vertebra.series != "caudal" or vertebra.number <= LAST_FACETS


def _size(vertebra: Vertebra) -> float:
    shape = vertebra.shape
    return float(np.cbrt(shape.length * shape.breadth * shape.height))


def _list_paired(bench: Bench) -> list[str]:
    return bench.names(lambda scan: scan.row["series"] in ("limb", "girdle") and scan.row["side"] != "middle")


def _change_one(bench: Bench, try_one: Callable[[str], Scan | None]) -> tuple[str]:
    """One bone of limb or girdle that the change shows on."""
    names = _list_paired(bench)
    while names:
        taken = set(bench.taken)
        name = bench.draw(names)
        if (changed := try_one(name)) is not None:
            bench.scans[name] = changed
            return (name,)
        bench.taken = taken
        names.remove(name)
    raise ValueError("no bone is left that the change would show on")


def _exchange(bench: Bench, kind: str, pairs: Sequence[tuple[str, str]]) -> Planted:
    laid: dict[str, Scan] = {}

    def changes(one: str, other: str) -> bool:
        surfaces = {name: _surface(bench.scans[name]) for name in (one, other)}
        volumes = sorted(survey_body(surface)[1].volume_m3 for surface in surfaces.values())
        if volumes[1] >= TIMES * volumes[0]:
            return False
        places = exchange(surfaces, Swap(kind, one, other), bench.rng)
        laid.update({name: _move(bench.scans[name], X) for name, X in places.items()})
        return all(_measure_change(laid[a], bench.scans[b]) >= LEAST_CHANGE_S for a, b in ((one, other), (other, one)))

    one, other = _draw_pair(bench, pairs, changes)
    _put(bench, one, laid[other])
    _put(bench, other, laid[one])
    return (one, other), ""


def _draw_pair(bench: Bench, pairs: Sequence[tuple[str, str]], changes: Callable[[str, str], bool]) -> tuple[str, str]:
    for k in bench.rng.permutation(len(pairs)):
        around = {name for end in pairs[k] for name in bench.find_around(end)}
        if not around & bench.taken and changes(*pairs[k]):
            bench.taken |= around
            return pairs[k]
    raise ValueError("no pair is left for another fault")


def _put(bench: Bench, name: str, mesh: Scan) -> None:
    """A mesh into the file that is named by its place."""
    bench.scans[name] = damage.give_mesh_of(bench.scans[name], mesh)


def _move(scan: Scan, X: Array) -> Scan:
    """Moved by X (4, 4) [m]."""
    return replace(scan, vertices=scan.vertices @ X[:3, :3].T + 1000 * X[:3, 3])


def _surface(scan: Scan) -> Surface:
    return Surface(scan.vertices / 1000, scan.faces)


def _measure_change(there: Scan, belongs: Scan) -> float:
    """How far a bone is from the one that belongs in its place, along the normals, in the latter's size."""
    clouds = [sample_surface(_surface(scan), np.inf, SAMPLES, SAMPLES) for scan in (there, belongs)]
    off = []
    for one, other in (clouds, clouds[::-1]):
        near = cKDTree(other.points).query(one.points)[1]
        off.append(np.einsum("ij,ij->i", one.points - other.points[near], other.normals[near]) ** 2)
    size = np.cbrt(survey_body(_surface(belongs))[1].volume_m3)
    return float(np.sqrt(np.mean(off))) / float(size)
