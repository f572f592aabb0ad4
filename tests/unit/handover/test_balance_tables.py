"""The balance as a hand-over tells it, worked out again from its other files by whoever has nothing else."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from core_calcs.document.document import SkeletonDocument
from core_calcs.handover.balance_tables import INFINITE, list_balance_tables
from core_calcs.handover.handover_set import write_handover
from core_calcs.site.actions import Footing, PointAction, Wind
from core_calcs.spatial.progress import ignore_progress
from core_calcs.studies.assess import assess

Kept = tuple[SkeletonDocument, Path]
G = 9.80665
PUSH = PointAction("visitor", "push", "skull", (0.0, 0.0, 0.0), 60.0, (0.0, 1.0, 0.0))
ANYWHERE = PointAction("shove", "push", "dorsal 3", (0.0, 0.0, 0.05), 80.0)
WIND = Wind(300.0, 1.2)


@pytest.fixture(scope="module")
def pose_folder(box_document: Kept, tmp_path_factory: pytest.TempPathFactory) -> Path:
    document, path = box_document
    site = replace(document.site, actions=(PUSH, ANYWHERE), wind=WIND, friction=0.4)
    told = replace(document, site=site)
    folder = tmp_path_factory.mktemp("acted") / "hand-over"
    return write_handover(told, path, folder, [document.poses[0].name], ignore_progress) / "neutral"


def read(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def weights_of(folder: Path) -> tuple[np.ndarray, np.ndarray]:
    rows = read(folder, "elements")
    mass = np.array([float(row["mass_kg"]) for row in rows])
    return mass, np.array([[float(row[f"centre_{axis}_m"]) for axis in "xyz"] for row in rows])


def arms_of(edge: dict[str, str], points: np.ndarray) -> np.ndarray:
    """How far points are inside an edge of the support polygon, in plan."""
    start, end = ((float(edge[f"{which}_x_m"]), float(edge[f"{which}_y_m"])) for which in ("start", "end"))
    along = np.subtract(end, start) / math.dist(start, end)
    offset = points[:, :2] - start
    return along[0] * offset[:, 1] - along[1] * offset[:, 0]


def test_cases_are_self_weight_and_every_action(pose_folder: Path) -> None:
    assert [row["leading"] for row in read(pose_folder, "balance")] == ["self-weight", "visitor", "shove", "wind"]


def test_self_weight_is_used_as_the_elements_say(pose_folder: Path) -> None:
    mass, centres = weights_of(pose_folder)
    told = {row["edge"]: row for row in read(pose_folder, "balance-edges") if row["leading"] == "self-weight"}
    edges = read(pose_folder, "edges")
    assert set(told) == {edge["edge"] for edge in edges}
    for edge in edges:
        moments = G * mass * arms_of(edge, centres)
        used = 1.1 * -moments[moments < 0].sum() / (0.9 * moments[moments > 0].sum())
        assert float(told[edge["edge"]]["overturning_utilisation"]) == pytest.approx(used, abs=1e-8)


def test_leading_push_overturns_by_its_height_and_the_others_go_along(pose_folder: Path) -> None:
    """About the governing edge: 1.5 times the push at its height, .7 of the shove at its own and of the wind."""
    row = next(row for row in read(pose_folder, "balance") if row["leading"] == "visitor")
    edge = next(edge for edge in read(pose_folder, "edges") if edge["edge"] == row["governing_edge"])
    mass, centres = weights_of(pose_folder)
    places = {r["element"]: c for r, c in zip(read(pose_folder, "elements"), centres, strict=True)}
    wind = next(r for r in read(pose_folder, "balance") if r["leading"] == "wind")
    assert set(row["accompanying"].split("; ")) == {"shove", "wind"}
    assert row["governing_edge"] == wind["governing_edge"]
    moments = G * mass * arms_of(edge, centres)
    over = 1.1 * -moments[moments < 0].sum() + 1.5 * (
        60 * places["skull"][2] + 0.7 * 80 * (places["dorsal 3"][2] + 0.05)
    )
    # What is left is the wind: its pressure on its silhouette, at a height inside the body.
    blown = (float(row["overturning_design_Nm"]) - over) / (1.5 * 0.7)
    force = math.hypot(float(wind["leading_force_x_N"]), float(wind["leading_force_y_N"]))
    assert 0.3 < blown / force < 1.3
    ratio = float(row["overturning_design_Nm"]) / float(row["holding_design_Nm"])
    assert float(row["overturning_utilisation"]) == pytest.approx(ratio, rel=1e-8)
    assert float(row["holding_design_Nm"]) == pytest.approx(0.9 * moments[moments > 0].sum(), rel=1e-8)


def test_wind_is_its_pressure_on_the_silhouette(pose_folder: Path) -> None:
    """Every box is convex, so its shadow is the hull of its corners; in front of each other they count once."""
    row = next(row for row in read(pose_folder, "balance") if row["leading"] == "wind")
    force = np.array([float(row[f"leading_force_{axis}_N"]) for axis in "xyz"])
    size = float(np.linalg.norm(force))
    across = np.array([-force[1], force[0], 0.0]) / size
    shadows = []
    for own in read(pose_folder, "elements"):
        corners = trimesh.load(pose_folder / own["file"]).vertices / 1000
        shadows.append(shapely.MultiPoint(np.column_stack([corners @ across, corners[:, 2]])).convex_hull)
    assert size == pytest.approx(300 * 1.2 * shapely.union_all(shadows).area, rel=0.003)


def test_feet_keep_the_whole_in_equilibrium(pose_folder: Path) -> None:
    mass, _ = weights_of(pose_folder)
    acting = {row["leading"]: row for row in read(pose_folder, "balance")}
    feet = read(pose_folder, "balance-feet")
    for name in ("self-weight", "visitor"):
        own = [row for row in feet if row["leading"] == name]
        total = np.array([[float(row[f"force_on_foot_{axis}_N"]) for axis in "xyz"] for row in own]).sum(axis=0)
        pushes = 0.0 if name == "self-weight" else 60.0
        assert len(own) == 4
        assert total[2] == pytest.approx(G * mass.sum(), rel=1e-8)
        assert total[1] <= -pushes + 1e-6 if pushes else total[1] == pytest.approx(0, abs=1e-9)
        assert acting[name]["case"] == own[0]["case"]


def test_sliding_is_needed_over_given_friction(pose_folder: Path) -> None:
    for row in read(pose_folder, "balance"):
        assert float(row["sliding_utilisation"]) == pytest.approx(float(row["friction_needed"]) / 0.4, rel=1e-8)


def test_rose_meets_the_polygon_where_a_ray_does(pose_folder: Path) -> None:
    edges, mass_centres = read(pose_folder, "edges"), weights_of(pose_folder)
    polygon = shapely.Polygon([(float(edge["start_x_m"]), float(edge["start_y_m"])) for edge in edges])
    centre = np.average(mass_centres[1], axis=0, weights=mass_centres[0])
    weight = G * mass_centres[0].sum()
    rose = read(pose_folder, "rose")
    assert len(rose) == 72
    for row in rose:
        azimuth = math.radians(float(row["azimuth_deg"]))
        ray = shapely.LineString([centre[:2], centre[:2] + 99 * np.array([math.cos(azimuth), math.sin(azimuth)])])
        inside = shapely.intersection(ray, polygon).length
        assert float(row["distance_m"]) == pytest.approx(inside, abs=1e-9)
        assert float(row["tip_angle_deg"]) == pytest.approx(math.degrees(math.atan(inside / centre[2])), abs=1e-7)
        assert float(row["tipping_force_N"]) == pytest.approx(weight * inside / centre[2], rel=1e-7)
        assert float(row["allowed_force_N"]) < float(row["tipping_force_N"])


def test_mass_along_adds_up_from_the_tail(pose_folder: Path) -> None:
    rows = read(pose_folder, "mass-along")
    mass, centres = weights_of(pose_folder)
    assert [float(row["centre_x_m"]) for row in rows] == pytest.approx(sorted(centres[:, 0].tolist()), abs=1e-9)
    for row in rows:
        x = float(row["centre_x_m"])
        lower, upper = mass[centres[:, 0] < x - 1e-9].sum(), mass[centres[:, 0] <= x + 1e-9].sum()
        assert lower < float(row["mass_up_to_here_kg"]) <= upper + 1e-7
    assert float(rows[-1]["share_up_to_here_percent"]) == pytest.approx(100, abs=1e-8)


def test_anchor_that_would_do_holds_the_design_moment(box_document: Kept, tmp_path: Path) -> None:
    """Ten times the push: what the tables ask for is entered, and the pose then uses up all of it and no more."""
    document, _ = box_document
    hard = replace(PUSH, force_N=600.0)
    site = replace(document.site, actions=(hard,))
    found = assess(document.skeleton, document.poses[0], document.build, site)
    table = {table.name: table for table in list_balance_tables(found)}["holding-down"]
    anchors = {row[1]: row[2] for row in table.rows if row[0] == "anchor tension"}
    assert anchors
    footings = tuple(Footing(foot, anchored=True, anchor_N=tension) for foot, tension in anchors.items())
    held = assess(document.skeleton, document.poses[0], document.build, replace(site, footings=footings))
    assert max(case.anchored for case in held.balance.cases) == pytest.approx(1, abs=1e-9)


def test_what_does_not_stand_has_heads_and_no_rows(box_document: Kept) -> None:
    document, _ = box_document
    hung = replace(document.skeleton, feet=())
    tables = list_balance_tables(assess(hung, document.poses[0], document.build, document.site))
    assert [table.rows for table in tables] == [()] * 5
    assert all(table.heads for table in tables)


def test_infinite_is_neither_a_number_nor_not_known(pose_folder: Path, box_document: Kept) -> None:
    document, _ = box_document
    lifted = PointAction("hoist", "pull", "sacrum", (0.0, 0.0, 0.0), 1e5, (0.6, 0.0, 0.8))
    found = assess(document.skeleton, document.poses[0], document.build, replace(document.site, actions=(lifted,)))
    cases = list_balance_tables(found)[0]
    assert dict(zip(cases.heads, cases.rows[1], strict=True))["friction_needed"] == INFINITE
    for name in ("balance", "balance-edges", "balance-feet", "holding-down", "rose", "mass-along"):
        twin = json.loads((pose_folder / f"{name}.json").read_text(encoding="utf-8"))
        assert len(twin) == len(read(pose_folder, name))
