"""Documents of older versions, brought up to date: what they say is kept; what they
could not say is what they meant.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from core_calcs.build.build import (
    Build,
)
from core_calcs.document.document import SCHEMA_VERSION, SkeletonDocument
from core_calcs.document.migrations import MIGRATIONS
from core_calcs.document.reading import document_from_text, document_to_text, read_document
from core_calcs.site.actions import Factors
from core_calcs.site.site import Site
from core_calcs.spatial.errors import DocumentError
from tests.unit.document.compare import flatten


def make_older(document: SkeletonDocument, version: int) -> dict[str, Any]:
    """The tree of the document with the names that keys had before version 20."""

    def rename(value: Any) -> Any:
        if isinstance(value, dict):
            return {key.replace("uncertainty", "doubt"): rename(item) for key, item in value.items()}
        return [rename(item) for item in value] if isinstance(value, list) else value

    tree: dict[str, Any] = rename(json.loads(document_to_text(document)))
    return tree | {"version": version}


def forget_pits(tree: dict[str, Any]) -> None:
    for element in tree["skeleton"]["elements"]:
        for void in element["voids"]:
            del void["holes_error_m3"], void["pits_m3"]


def test_an_older_version_is_brought_up_to_date(document, monkeypatch):
    """The mechanism, with a version 0 made up for the test in which the site's key was called `place`."""

    def rename_place(tree: dict[str, Any]) -> dict[str, Any]:
        return {"site" if key == "place" else key: value for key, value in tree.items()}

    tree = json.loads(document_to_text(document))
    tree["version"], tree["place"] = 0, tree.pop("site")
    for version in range(1, SCHEMA_VERSION):
        monkeypatch.setitem(MIGRATIONS, version, lambda tree: tree)
    with pytest.raises(DocumentError, match="no way from version 0 to 1"):
        document_from_text(json.dumps(tree), "text")
    monkeypatch.setitem(MIGRATIONS, 0, rename_place)
    assert flatten(document_from_text(json.dumps(tree), "text")) == flatten(document)


def test_version_1_had_solid_castings_alone(document):
    """What a document of version 1 says is kept; what it could not say is what it meant."""
    document = dataclasses.replace(document, poses=document.poses[:2])
    tree = make_older(document, 1)
    tree["build"] = {"material": tree["build"]["material"]}
    for element in tree["skeleton"]["elements"]:
        del element["voids"]
    for later in (*tree["skeleton"]["feet"], *tree["poses"]):
        later.pop("origin", None)
        later.pop("idle_feet", None)
    found = document_from_text(json.dumps(tree), "text")
    assert found.build == Build(document.build.material)
    assert found.build.casting.kind == "solid"
    assert [element.voids for element in found.skeleton.elements] == [()] * 4
    assert flatten(found.poses) == flatten(tuple(dataclasses.replace(pose, idle_feet=()) for pose in document.poses))


def test_version_2_let_everything_bear_that_touches(document):
    castings = dataclasses.replace(document.build.casting, struts_uncertainty_share=0.0)
    kept = dataclasses.replace(document.build, casting=castings, element_castings=(), discs=(), steelwork=())
    document = dataclasses.replace(document, build=kept)
    tree = make_older(document, 2)
    for foot in tree["skeleton"]["feet"]:
        del foot["origin"]
    for pose in tree["poses"]:
        del pose["idle_feet"]
    found = document_from_text(json.dumps(tree), "text")
    assert [foot.origin for foot in found.skeleton.feet] == ["proposed"]
    assert [pose.idle_feet for pose in found.poses] == [()] * 3
    assert flatten(found.build) == flatten(document.build)


def test_version_3_had_one_material_and_castings_alone(document):
    """What a document of version 3 says is kept; nothing is added to the masses."""
    tree = make_older(document, 3)
    build = tree["build"]
    del build["discs"], build["steelwork"], build["element_castings"][1]
    forget_pits(tree)
    for own in (build, *build["series_castings"], *build["element_castings"]):
        del own["casting"]["struts_doubt_share"], own["casting"]["material"]
    found = document_from_text(json.dumps(tree), "text").build
    assert (found.discs, found.steelwork) == ((), ())
    assert found.casting == document.build.casting
    assert found.element_castings[0].casting == dataclasses.replace(
        document.build.element_castings[0].casting, struts_uncertainty_share=0.0
    )


def test_version_5_had_every_element_where_it_was_scanned(document):
    tree = make_older(document, 5)
    for joint in tree["skeleton"]["joints"]:
        del joint["placing"]
    found = document_from_text(json.dumps(tree), "text").skeleton
    assert [joint.placing for joint in found.joints] == [None] * 3
    assert flatten(found.elements) == flatten(document.skeleton.elements)


def test_version_6_knew_nothing_of_holes_and_pits(document):
    tree = make_older(document, 6)
    forget_pits(tree)
    found = document_from_text(json.dumps(tree), "text")
    (void,) = found.skeleton.elements[0].voids
    assert (void.holes_error_m3, void.pits_m3) == (None, None)
    assert void.volume_m3 == document.skeleton.elements[0].voids[0].volume_m3


def test_version_7_had_every_fixed_element_follow_its_parent_alone(document):
    tree = make_older(document, 7)
    for joint in tree["skeleton"]["joints"]:
        del joint["also"]
    found = document_from_text(json.dumps(tree), "text").skeleton
    assert [joint.also for joint in found.joints] == [None] * 3
    assert flatten(found.joints[2].placing) == flatten(document.skeleton.joints[2].placing)


def test_version_8_knew_of_no_second_element_in_a_table(document):
    tree = make_older(document, 8)
    for joint in tree["skeleton"]["joints"]:
        del joint["also_in_table"]
    found = document_from_text(json.dumps(tree), "text").skeleton
    assert [(joint.also, joint.also_in_table) for joint in found.joints] == [
        (joint.also, None) for joint in document.skeleton.joints
    ]


def test_version_9_said_nothing_of_clearance(document):
    tree = make_older(document, 9)
    del tree["site"]["clearance_share_s"]
    assert document_from_text(json.dumps(tree), "text").site == dataclasses.replace(
        document.site, clearance_share_s=0.02
    )


def test_version_10_had_limits_alone(document):
    tree = make_older(document, 10)
    for joint in tree["skeleton"]["joints"]:
        del joint["envelope"]
    found = document_from_text(json.dumps(tree), "text").skeleton
    assert [joint.envelope for joint in found.joints] == [None] * 3
    assert flatten(found.joints[0].limits) == flatten(document.skeleton.joints[0].limits)


def test_version_11_knew_of_a_facet_what_its_joint_was(document):
    tree = make_older(document, 11)
    facet = tree["skeleton"]["joints"][0]["facets"][0]
    for key in ("outline_m", "surface", "how", "confidence"):
        del facet[key]
    read = document_from_text(json.dumps(tree), "text").skeleton.joints[0]
    assert (read.facets[0].outline_m, read.facets[0].surface, read.facets[0].how) == (None, None, "")
    assert read.facets[0].confidence == read.confidence == "found"


def test_version_12_kept_a_limbs_standard_errors_with_its_fit(document):
    tree = make_older(document, 12)
    own, others = tree["skeleton"]["joints"][0], tree["skeleton"]["joints"][1:]
    for joint in (own, *others):
        del joint["frame_doubt"]
    own["fit"] = {
        **{"family": "hinge", "element": "caudal 1", "radii_m": [0.02], "arcs_rad": [2.0], "residual_m": 0.001},
        **{"centre_doubt_m": 0.002, "axis_doubt_rad": None, "partner_opening_share": 0.1},
    }
    read = document_from_text(json.dumps(tree), "text").skeleton.joints
    assert (read[0].frame_uncertainty.centre_m, read[0].frame_uncertainty.axes_rad) == (0.002, None)
    assert read[0].fit.radii_m == (0.02,)
    assert all(joint.frame_uncertainty is None for joint in read[1:])


def test_version_13_had_every_gap_as_scanned_and_discs_of_their_own(document):
    """A disc of the build that is as thick as the gap follows it; places come in to a picometre, and stay."""
    tree = make_older(document, 13)
    facet, disc = tree["skeleton"]["joints"][0]["facets"][0], tree["build"]["discs"][0]
    facet["centroid_m"], facet["gap_m"] = [1 / 3, -2e-14, 0.1], 0.01 / 3
    for joint in tree["skeleton"]["joints"]:
        del joint["disc"]
    own = document_from_text(json.dumps(tree), "text")
    assert [joint.disc for joint in own.skeleton.joints] == [None] * 3
    assert (own.build.discs[0].thickness_m, own.build.discs[0].thickness_uncertainty_m) == (0.004, 0.001)
    assert own.skeleton.joints[0].facets[0].centroid_m.tolist() == [0.333333333333, 0.0, 0.1]
    disc["thickness_m"], disc["thickness_doubt_m"] = 0.01 / 3, 0.2 * (0.01 / 3)
    following = document_from_text(json.dumps(tree), "text")
    assert (following.build.discs[0].thickness_m, following.build.discs[0].thickness_uncertainty_m) == (None, None)
    assert flatten(document_from_text(document_to_text(following), "text")) == flatten(following)


def test_version_15_kept_no_records_and_mounted_nothing(document):
    kept = dataclasses.replace(document, records=(), poses=document.poses[:2])
    tree = make_older(kept, 15)
    del tree["records"]
    for pose in tree["poses"]:
        del pose["mounted"]
    for element in tree["skeleton"]["elements"]:
        del element["made_from"]
    assert flatten(document_from_text(json.dumps(tree), "text")) == flatten(kept)


def test_version_16_knew_of_nothing_that_acts(document):
    tree = make_older(document, 16)
    for key in ("friction", "footings", "actions", "wind", "directions", "factors"):
        del tree["site"][key]
    tree["site"]["datum_m"] = [0.5, -0.5]
    assert document_from_text(json.dumps(tree), "text").site == Site(datum_m=(0.5, -0.5, 0.0))


@pytest.mark.parametrize(("before", "after"), [(None, None), ([0.5, -0.5], (0.5, -0.5, -0.3))])
def test_version_17_had_its_datum_on_the_ground(document, before, after):
    tree = make_older(document, 17)
    tree["site"] |= {"datum_m": before, "ground_m": -0.3}
    assert document_from_text(json.dumps(tree), "text").site.datum_m == after


def test_version_18_had_no_factors_for_strength(document):
    tree = make_older(document, 18)
    for key in ("strength_against", "strength_for", "strength_variable", "reduction"):
        del tree["site"]["factors"][key]
    before = document.site.factors
    usual = {
        key: getattr(Factors(), key) for key in ("strength_against", "strength_for", "strength_variable", "reduction")
    }
    assert document_from_text(json.dumps(tree), "text").site.factors == dataclasses.replace(before, **usual)


def test_version_19_called_uncertainties_doubts():
    """A file that version 19 wrote, with every key of that version: all that it says is there, under its new name."""
    path = Path(__file__).parents[2] / "data" / "document_version_19.json"
    tree = json.loads(path.read_text(encoding="utf-8"))
    assert tree["version"] == 19
    told, kept = dict(list_leaves(tree)), dict(list_leaves(MIGRATIONS[19](tree)))
    assert list(kept.values()) == list(told.values())
    renamed = {old: new for old, new in zip(told, kept, strict=True) if old != new}
    assert {key.rsplit("/", 1)[1] for key in renamed if "frame_doubt" not in key} == {
        *("density_doubt_kg_m3", "wall_doubt_m", "struts_doubt_share", "scale_doubt_share", "doubt_kg"),
        *("thickness_doubt_m", "weighed_doubt_kg", "kg_per_m_doubt"),
    }
    assert not [key for key in kept if "doubt" in key]
    read = read_document(path)
    assert read.skeleton.joints[0].frame_uncertainty.rests_on == "the two end plates"
    assert (read.build.material.density_uncertainty_kg_m3, read.build.weighings[0].uncertainty_kg) == (100.0, 0.1)
    steel, disc = read.build.steelwork[0], read.build.discs[0]
    assert (steel.kg_per_m_uncertainty, disc.thickness_uncertainty_m, disc.weighed_uncertainty_kg) == (
        0.15,
        0.001,
        1e-4,
    )


def list_leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every value of a tree that holds no others, with its place."""
    if isinstance(value, dict | list) and value:
        for key, item in value.items() if isinstance(value, dict) else enumerate(value):
            yield from list_leaves(item, f"{path}/{key}")
    else:
        yield path, value


def test_a_step_meets_a_damaged_older_document_plainly(document, monkeypatch):
    monkeypatch.setitem(MIGRATIONS, 0, lambda tree: {"site": tree["place"]})
    with pytest.raises(DocumentError, match="it is damaged: it says version 0"):
        document_from_text('{"schema": "counterpoise skeleton", "version": 0}', "text")
