"""Loose scans, each in a frame of its own, marked by hand and put together by the command line."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from core_calcs.document.reading import read_document
from core_calcs.spatial.transforms import apply, make_transform
from tests.unit.cli.driving import Place, list_files, run

PLACES = {"T1": 1.0, "T2": 0.0, "T3": -1.0}
"""Where the made-up vertebrae belong, x to the head [m]; T2 is the root."""
HEAD = """file,body,unit,element,series,position,side,parent,attachment,reason,origin
"""
JOINTS = {"T1": ("T1", "T2"), "T3": ("T2", "T3")}
"""By child: the headward and the tailward element."""


def pick_faces(shapes, surface, x: float, kind: str, end: int) -> str:
    """Numbers of the faces of a made-up vertebra that are a facet of its head end (1) or tail end (-1)."""
    corners = surface.vertices[surface.faces]
    middles = corners.mean(axis=1) - (x, 0, 0)
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    if kind == "centrum":
        wanted = (np.abs(middles[:, 0] - end * 0.45) < 1e-6) & (end * normals[:, 0] > 0.99)
    else:
        side = 1 if kind.startswith("left") else -1
        normal = shapes.zygapophysis_normal(side)
        foot = np.array([end * 0.5, side * shapes.ZYGAPOPHYSIS_Y, shapes.ZYGAPOPHYSIS_Z])
        if end < 0:
            foot = foot + shapes.ZYGAPOPHYSIS_GAP * normal
        wanted = (end * normals @ normal > 0.99) & (np.linalg.norm(middles - foot, axis=1) < 0.3)
        wanted &= np.abs((middles - foot) @ normal) < 1e-6
    assert wanted.any()
    return ",".join(map(str, np.flatnonzero(wanted)))


@pytest.fixture(scope="module")
def made(shapes, tmp_path_factory):
    """The scans, each turned and moved by its scanner, and by name its motion and the faces of its facets."""
    place = Place(tmp_path_factory.mktemp("loose"))
    place.meshes.mkdir()
    rng = np.random.default_rng(11)
    motions, faces = {}, {}
    for name, x in PLACES.items():
        surface = shapes.make_vertebra(x)
        S = make_transform(Rotation.random(random_state=rng.integers(2**31)).as_matrix(), rng.normal(size=3))
        mesh = trimesh.Trimesh(apply(S, surface.vertices), surface.faces, process=False)
        mesh.export(place.meshes / f"{name}.ply")
        motions[name] = S
        for kind in ("centrum", "left zygapophysis", "right zygapophysis"):
            for end in (1, -1):
                faces[name, kind, end] = pick_faces(shapes, surface, x, kind, end)
    hangs = {name: ",root" if name == "T2" else "T2,column" for name in PLACES}
    rows = [f"{name}.ply,,m,{name},dorsal,{k},middle,{hangs[name]},,scanned" for k, name in enumerate(PLACES, start=1)]
    place.table.write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return place, motions, faces


@pytest.fixture(scope="module")
def marked(made):
    """Articulated loose, and marked."""
    place, _, faces = made
    done = run(
        "articulate", place.table, "--meshes", place.meshes, "--document", place.document, "--loose", "--search-deg", 10
    )
    assert done.exit_code == 0, done.output
    assert "2 joints of the column wait for the assembly" in done.output
    refused = run("assemble", place.document, "--gap-mm", 100)
    assert refused.exit_code == 6
    assert "none of its facets are known. Mark its facets on T2 and T1" in " ".join(refused.output.split())
    for child, ends in JOINTS.items():
        for kind in ("centrum", "left zygapophysis", "right zygapophysis"):
            facets = [("--facet", name, faces[name, kind, end]) for name, end in zip(ends, (-1, 1), strict=True)]
            told = run("mark", place.document, "--joint", child, "--kind", kind, *sum(facets, ()))
            assert told.exit_code == 0, told.output
    return place


def test_loose_scans_marked_by_hand_are_put_together(made, marked, tmp_path):
    place, motions, _ = made
    assert len(read_document(place.document).skeleton.joint_of("T1").marks) == 6
    done = run("assemble", place.document, "--gap-mm", 100, "--reason", "loose scans", "--by", "N. N.", "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["upright"] is True  # no scanner knows where the head is
    assert [joint["facets_from"] for joint in told["joints"]] == ["marked by hand"] * 2
    assert [joint["remarks"] for joint in told["joints"]] == [[], []]
    skeleton = read_document(place.document).skeleton
    X_WE = {element.name: element.X_WE for element in skeleton.elements}
    back = {
        name: X_WE[name] @ motions[name] for name in PLACES
    }  # where each vertebra stands now, from where it belongs
    for child in JOINTS:
        D = np.linalg.inv(back["T2"]) @ back[child]
        assert np.degrees(Rotation.from_matrix(D[:3, :3]).magnitude()) < 1.0
        centre = np.array([PLACES[child], 0, 0])
        assert np.linalg.norm(apply(D, centre[None])[0] - centre) < 0.02
        joint = skeleton.joint_of(child)
        assert joint.moves, joint.reason
        assert joint.gap_m == pytest.approx(0.1, abs=0.01)
    turned = Rotation.from_matrix(back["T2"][:3, :3]).magnitude()
    assert turned < np.radians(3)  # upright: x to the head, z to the back
    shown = run("records", place.document)
    assert "assembled" in shown.output
    assert "loose scans" in shown.output


def test_the_discs_between_are_written_as_closed_surfaces(made, marked):
    """After the assembly above."""
    place, _, _ = made
    before = place.document.read_bytes()
    target = place.folder / "discs"
    done = run("discs", place.document, "--write", target, "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)["discs"]
    assert {disc["child"] for disc in told} == set(JOINTS)
    for disc in told:
        mesh = trimesh.load_mesh(target / disc["file"])
        assert mesh.is_watertight
        assert mesh.volume * 1e-9 == pytest.approx(disc["volume_m3"], rel=1e-4)
        assert disc["volume_m3"] == pytest.approx(0.8 * 0.6 * 0.1, rel=0.2)
    assert place.document.read_bytes() == before
    again = list_files(target)
    assert run("discs", place.document, "--write", target).exit_code == 7  # it holds what nobody knows to be ours
    assert run("discs", place.document, "--write", target, "--remove").exit_code == 1
    assert list_files(target) == again


def test_a_wedge_is_put_together_by_its_two_heights(made, marked, tmp_path):
    """After the assembly above: of one joint by the option, of the other by the table, which the option wins over."""
    document = marked.document.with_name("wedges.json")
    document.write_bytes(marked.document.read_bytes())
    table = tmp_path / "gaps.csv"
    table.write_text("joint,ventral_mm,dorsal_mm\nT1,50,50\nT3,80,140\n", encoding="utf-8")
    done = run("assemble", document, "--gaps", table, "--gap", "T1=140/80", "--reason", "measured", "--json")
    assert done.exit_code == 0, done.output
    told = {joint["child"]: joint for joint in json.loads(done.stdout)["joints"]}
    assert (told["T1"]["ventral_m"], told["T1"]["dorsal_m"]) == (0.14, 0.08)
    assert (told["T3"]["ventral_m"], told["T3"]["dorsal_m"]) == (0.08, 0.14)
    assert {own["gap_from"] for own in told.values()} == {"given for it"}
    assert told["T1"]["gap_m"] == pytest.approx(0.11)
    record = read_document(document).records[-1]
    assert "T1 140.0 mm ventral and 80.0 mm dorsal given for it" in record.evidence
    # The end plates are .6 m high: wedges of 2 asin(.03 / .6). T1's back nears T2's, T3's back gets away from it.
    elements = read_document(document).skeleton.elements
    R_WE = {element.name: (element.X_WE @ made[1][element.name])[:3, :3] for element in elements}
    for child in JOINTS:
        turned = np.degrees(Rotation.from_matrix(R_WE["T2"].T @ R_WE[child]).as_rotvec())
        np.testing.assert_allclose(turned, [0, -5.73, 0], atol=0.7)
    written = run("discs", document, "--write", tmp_path / "discs", "--json")
    assert written.exit_code == 0, written.output
    for disc in json.loads(written.stdout)["discs"]:
        for height in ("ventral_m", "dorsal_m"):
            assert disc[height] == pytest.approx(told[disc["child"]][height], abs=6e-3)
    document.unlink()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--gap-mm", 1, "--gap-share", 0.1), "gap: it is given twice"),
        (("--gap", "T1"), "'T1' is no gap"),
        (("--gap", "T1=x"), "joint of T1: its gap, 'x', is no gap"),
        (("--gap", "T1=100/"), "joint of T1: its dorsal height is missing"),
        (("--gap", "T1=-100/90"), "joint of T1: its ventral height, '-100', is no gap"),
        (("--gap-mm", "100/wide"), "every joint: its dorsal height, 'wide', is no gap"),
        (("--gap-share", "/0.1"), "every joint: its ventral height is missing"),
        (("--gap-mm", -1), "every joint: its gap, '-1', is no gap"),
        (("--gaps", "nowhere.csv"), "nowhere.csv: it cannot be read"),
        (("--gap", "T1=1", "--gap", "T1=2"), "T1: its gap is given twice"),
        (("--pin", "T9"), "T9: no element of that name"),
        (("--gap-mm", 5000), "check the unit"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_written(marked, options, words):
    before = list_files(marked.folder)
    done = run("assemble", marked.document, *options)
    assert done.exit_code != 0
    assert words.lower() in " ".join(done.output.split()).lower()
    assert list_files(marked.folder) == before


def test_marks_of_a_loose_element_are_whole(shapes, made, tmp_path):
    """Which facet it is no place tells, and one element's facet alone is mated to nothing."""
    place, _, faces = made
    document = place.meshes.parent / "again.json"
    told = ("articulate", place.table, "--meshes", place.meshes, "--document", document, "--loose")
    assert run(*told).exit_code == 0
    unsaid = run("mark", document, "--joint", "T1", "--facet", "T2", faces["T2", "centrum", 1])
    assert unsaid.exit_code == 6
    assert "but not which one" in " ".join(unsaid.output.split())
    beyond = run("mark", document, "--joint", "T1", "--kind", "centrum", "--facet", "T2", "0-99999")
    assert beyond.exit_code == 6
    kept = ("mark", document, "--joint", "T1", "--kind", "centrum", "--facet", "T2", faces["T2", "centrum", 1])
    assert run(*kept).exit_code == 0
    alone = run("assemble", document, "--gap-mm", 100)
    assert alone.exit_code == 6
    assert "its centrum is marked on T2 alone. Mark it on T1 as well" in " ".join(alone.output.split())
    document.unlink()
