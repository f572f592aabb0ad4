"""Facets of the dog against facets labelled by eye on its bones, by two hands (tests/data/dog_facet_labels*.json)."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.facets import find_facets
from tests.dog_column import LABELS, SECOND_LABELS, prepare_all, read_labels, read_vertebrae

SHARE, TOLERANCE_S = 0.95, 0.05


@pytest.fixture(scope="module")
def joints() -> list[dict]:
    """The first hand's labels."""
    return read_labels(LABELS)


Surfaces = dict[tuple[str, str, str, str], np.ndarray]
"""Centroids (3,) by parent, child, kind, element, in s of the joint's smaller element."""


@pytest.fixture(scope="module")
def found(dog_folder, joints) -> tuple[Surfaces, dict[tuple[str, str], float]]:
    """What the finder finds, and s by joint [m]."""
    names = {name for joint in joints for name in (joint["parent"], joint["child"])}
    elements = prepare_all(read_vertebrae(dog_folder, names))
    surfaces, sizes = {}, {}
    for joint in joints:
        ends = joint["parent"], joint["child"]
        pair = sorted((elements[name] for name in ends), key=lambda element: -element.centre[0])  # headward first
        sizes[ends] = min(element.size for element in pair)
        facets = find_facets(*pair, column_axes(pair[0].centre, pair[1].centre))
        for patch in (patch for both in facets.pairs for patch in both):
            surfaces[*ends, patch.kind, patch.element.name] = patch.as_facet().centroid_m / sizes[ends]
    return surfaces, sizes


def measure_offsets(found: tuple[Surfaces, dict], joints: list[dict]) -> dict[tuple[str, str, str, str], float]:
    """Distance of each labelled centroid from the one found, in s; infinite where none was found."""
    surfaces, sizes = found
    off = {}
    for joint in joints:
        ends = joint["parent"], joint["child"]
        for label in joint["facets"]:
            key = (*ends, label["kind"], label["element"])
            there = surfaces.get(key, np.full(3, np.inf))
            off[key] = float(np.linalg.norm(there - np.array(label["centroid_m"]) / sizes[ends]))
    return off


def list_joints_off(off: dict[tuple[str, str, str, str], float]) -> list[tuple[str, str]]:
    """Joints with any labelled surface farther off than the tolerance."""
    return sorted({key[:2] for key, value in off.items() if not value <= TOLERANCE_S})


@pytest.mark.dog
def test_the_labels_cover_the_column(joints):
    assert len(joints) == 35  # C3–C4 to Ca9–Ca10
    assert all({"centrum"} <= {facet["kind"] for facet in joint["facets"]} for joint in joints)


@pytest.mark.dog
def test_every_facet_that_is_modelled_is_found_near_its_label(found, joints):
    """Surface by surface: half within .02 s, nineteen in twenty within .05 s, none farther than .07 s.

    Between sacrum and Ca1 the model shows no facet (the labels say so): nothing is claimed there.
    """
    off = measure_offsets(found, joints)
    assert len(off) == 190
    missed = {key for key, value in off.items() if not np.isfinite(value)}
    assert missed == {key for key in off if key[:2] == ("Ca_1", "Sacrum") and key[2] != "centrum"}
    assert len(missed) == 4
    values = np.array([value for key, value in off.items() if key not in missed])
    assert np.median(values) < 0.02
    assert (values < TOLERANCE_S).mean() > 0.95
    assert values.max() < 0.07


@pytest.fixture(scope="module")
def second_hand() -> list[dict]:
    """The same surfaces labelled a second time, apart from the first."""
    return read_labels(SECOND_LABELS)


@pytest.fixture(scope="module")
def both_hands(joints, second_hand) -> list[dict]:
    """The mean of the two hands' centroids."""
    there = {
        (j["parent"], j["child"], f["kind"], f["element"]): f["centroid_m"] for j in second_hand for f in j["facets"]
    }
    mean = []
    for joint in joints:
        facets = []
        for facet in joint["facets"]:
            other = there[joint["parent"], joint["child"], facet["kind"], facet["element"]]
            facets.append({**facet, "centroid_m": list(np.mean([facet["centroid_m"], other], axis=0))})
        mean.append({**joint, "facets": facets})
    return mean


@pytest.mark.dog
def test_each_hand_is_met_better_than_the_hands_meet_each_other(found, joints, second_hand):
    """Joints with every surface within .05 s: the two hands in 27 of 35, the finder in more of either."""
    _, sizes = found
    first = {
        (j["parent"], j["child"], f["kind"], f["element"]): np.array(f["centroid_m"]) / sizes[j["parent"], j["child"]]
        for j in joints
        for f in j["facets"]
    }
    between = len(list_joints_off(measure_offsets((first, sizes), second_hand)))
    assert between == 8
    assert len(list_joints_off(measure_offsets(found, joints))) < between
    assert len(list_joints_off(measure_offsets(found, second_hand))) < between


@pytest.mark.dog
@pytest.mark.xfail(
    strict=True,
    reason="not reached: 32 of 35 joints. Off are L6 by .051 s, Ca7 by .052 s, and sacrum to Ca1, where no facet is "
    "modelled and none is claimed; the hands themselves are .025 s apart (rms)",
)
def test_every_facet_of_a_joint_lies_where_two_hands_put_it(found, both_hands):
    """Required: 95 % of the joints with every labelled facet within .05 s, s the size of the smaller element."""
    far = list_joints_off(measure_offsets(found, both_hands))
    assert len(far) <= (1 - SHARE) * len(both_hands), f"{len(far)} of {len(both_hands)} joints off: {far}"
