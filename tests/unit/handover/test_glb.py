"""The GLB against the rules of glTF 2.0 (Khronos Group, "glTF 2.0 Specification"; ISO/IEC 12113:2022)."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core_calcs.handover import glb
from core_calcs.handover.glb import GlbGeometry, write_glb
from core_calcs.mesh.surface import Surface
from core_calcs.spatial.errors import OutputError


@pytest.fixture
def written(tmp_path: Path) -> tuple[dict, bytes]:  # type: ignore[type-arg]
    ball = trimesh.creation.icosphere(subdivisions=2, radius=0.3)
    geometry = GlbGeometry(tmp_path / "part")
    geometry.append("ball “é”", Surface(np.asarray(ball.vertices), np.asarray(ball.faces)))
    geometry.append("nothing", Surface(np.empty((0, 3)), np.empty((0, 3), np.int64)))
    flat = Surface(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2], [0, 1, 3]]))
    geometry.append("flat", flat)
    X = np.stack([np.eye(4)] * 3)
    X[0, :3, 3] = 1, 2, 3
    write_glb(tmp_path / "whole.glb", geometry, ["ball “é”", "nothing", "flat"], X, "scene", "test")
    data = (tmp_path / "whole.glb").read_bytes()
    magic, version, length = struct.unpack("<4sII", data[:12])
    assert (magic, version, length) == (b"glTF", 2, len(data))
    json_length, kind = struct.unpack("<I4s", data[12:20])
    assert (kind, json_length % 4) == (b"JSON", 0)
    binary_length, kind = struct.unpack("<I4s", data[20 + json_length : 28 + json_length])
    assert (kind, binary_length) == (b"BIN\0", len(data) - 28 - json_length)
    return json.loads(data[20 : 20 + json_length]), data[28 + json_length :]


def test_arrays_are_what_their_accessors_say(written: tuple[dict, bytes]) -> None:  # type: ignore[type-arg]
    scene, binary = written
    assert scene["buffers"] == [{"byteLength": len(binary)}]
    for mesh in scene["meshes"]:
        (primitive,) = mesh["primitives"]
        arrays = {}
        for name, number in (*primitive["attributes"].items(), ("indices", primitive["indices"])):
            accessor = scene["accessors"][number]
            view = scene["bufferViews"][accessor["bufferView"]]
            assert view["byteOffset"] % 4 == 0
            width = {"VEC3": 3, "SCALAR": 1}[accessor["type"]]
            dtype = {5126: "<f4", 5125: "<u4"}[accessor["componentType"]]
            assert view["byteLength"] == accessor["count"] * width * 4
            arrays[name] = np.frombuffer(binary, dtype, accessor["count"] * width, view["byteOffset"])
            if name == "POSITION":
                points = arrays[name].reshape(-1, 3)
                assert accessor["min"] == points.min(axis=0).tolist()
                assert accessor["max"] == points.max(axis=0).tolist()
        count = len(arrays["POSITION"]) // 3
        assert arrays["indices"].max() < count
        np.testing.assert_allclose(np.linalg.norm(arrays["NORMAL"].reshape(-1, 3), axis=1), 1, atol=1e-6)


def test_normals_of_a_ball_point_outwards(written: tuple[dict, bytes]) -> None:  # type: ignore[type-arg]
    scene, binary = written
    attributes = scene["meshes"][0]["primitives"][0]["attributes"]
    points, normals = (
        np.frombuffer(binary, "<f4", a["count"] * 3, scene["bufferViews"][a["bufferView"]]["byteOffset"]).reshape(-1, 3)
        for a in (scene["accessors"][attributes[name]] for name in ("POSITION", "NORMAL"))
    )
    assert (points / 0.3 * normals).sum(axis=1).min() > 0.99


def test_nodes_are_named_and_the_root_turns_z_up_to_y_up(written: tuple[dict, bytes]) -> None:  # type: ignore[type-arg]
    scene, _ = written
    *nodes, root = scene["nodes"]
    assert [node["name"] for node in nodes] == ["ball “é”", "nothing", "flat"]
    assert [node.get("mesh") for node in nodes] == [0, None, 1]
    assert root["children"] == [0, 1, 2]
    assert scene["scenes"][scene["scene"]]["nodes"] == [3]
    R = np.array(root["matrix"]).reshape(4, 4).T
    np.testing.assert_array_equal(R @ [1, 2, 3, 1], [1, 3, -2, 1])
    np.testing.assert_array_equal(np.array(nodes[0]["matrix"]).reshape(4, 4).T[:3, 3], [1, 2, 3])


def test_more_than_the_format_holds_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(glb, "_GREATEST_BYTES", 100)
    with pytest.raises(OutputError, match="4 GiB"):
        write_glb(tmp_path / "whole.glb", GlbGeometry(tmp_path / "part"), [], np.empty((0, 4, 4)), "s", "g")
    assert not (tmp_path / "whole.glb").exists()
