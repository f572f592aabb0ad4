"""One file in another unit than the others: told by name, with the unit, and nobody else is accused."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np
import pytest

from core_calcs.studies.unlikely_sizes import list_unlikely


@dataclass
class Own:
    """As much of an element as is looked at, its box's edge in metres."""

    name: str
    edge_m: float
    position: int | None = None
    side: str = "middle"
    series: str = "dorsal"
    unit_m: float = 0.001
    source: SimpleNamespace = field(init=False)
    solid: SimpleNamespace = field(init=False)

    def __post_init__(self) -> None:
        self.source = SimpleNamespace(file=f"{self.name}.stl", unit_m=self.unit_m)
        self.solid = SimpleNamespace(lower_m=np.zeros(3), upper_m=np.full(3, self.edge_m))


def make_skeleton(**factors: float) -> SimpleNamespace:
    """Six vertebrae that dwindle, and a pair of thighs on the first; a factor on the size of any by its name."""
    vertebrae = [Own(f"T{k}", 0.1 * 0.9**k, k) for k in range(1, 7)]
    thighs = [Own(f"femur_{side}", 0.3, None, side, "limb") for side in ("left", "right")]
    made = [
        Own(o.name, o.edge_m * factors.get(o.name, 1.0), o.position, o.side, o.series) for o in (*vertebrae, *thighs)
    ]
    joints = [SimpleNamespace(parent=f"T{k}", child=f"T{k + 1}") for k in range(1, 6)]
    joints += [SimpleNamespace(parent="T1", child=thigh.name) for thigh in thighs]
    return SimpleNamespace(elements=made, joints=joints)


def test_a_sound_skeleton_is_not_accused() -> None:
    assert list_unlikely(make_skeleton()) == ()
    assert list_unlikely(make_skeleton(femur_left=1.5, T3=0.6)) == ()


@pytest.mark.parametrize("name", ["T1", "T2", "T4", "T6", "femur_left", "femur_right"])
@pytest.mark.parametrize(("factor", "unit"), [(0.001, "m"), (0.1, "cm"), (0.01, ""), (100.0, ""), (1000.0, "")])
def test_the_one_that_is_off_is_told_with_its_unit(name: str, factor: float, unit: str) -> None:
    (told,) = list_unlikely(make_skeleton(**{name: factor}))
    if factor == 0.1 and name.startswith("femur"):  # a thigh of 30 mm or of 3 m on a vertebra of 90: it may be either
        assert "femur_left" in told
        assert "femur_right" in told
        assert "the file of one of them seems to be in another unit" in told
        return
    assert told.startswith(f"{name}: ")
    assert f"{name}.stl" in told
    assert (f"seems to be in {unit}." if unit else "in another unit or to another scale") in told


def test_nothing_is_said_where_there_is_nothing_to_hold_it_against() -> None:
    alone = SimpleNamespace(elements=[Own("skull", 0.3, None, series="skull"), Own("T1", 0.001, 1)], joints=[])
    assert list_unlikely(alone) == ()
