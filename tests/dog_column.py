"""The dog's vertebral column, C3 to Ca20, made ready for joints (the bones: demo_blend/fetch_dog.py)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from core_calcs.articulation.column import column_axes
from core_calcs.articulation.facets import Patch, find_facets
from core_calcs.articulation.frames import column_frame
from core_calcs.articulation.partner import Partner, prepare_partner
from core_calcs.mesh.element_surface import read_bodies
from core_calcs.mesh.surface import Surface
from core_calcs.mesh.survey import survey_body

LABELS = Path(__file__).parent / "data" / "dog_facet_labels.json"
"""Facets as the first hand labelled them."""
SECOND_LABELS = LABELS.with_name("dog_facet_labels_2.json")

NAMES = (
    *(f"C_{i}" for i in range(3, 8)),
    *(f"T_{i}" for i in range(1, 14)),
    *(f"L_{i}" for i in range(1, 8)),
    "Sacrum",
    *(f"Ca_{i}" for i in range(1, 21)),
)
"""From the head on; a joint is named after its tailward element."""


@dataclass(frozen=True, eq=False)
class ColumnJoint:
    """A joint of two neighbours with its facets and frame; the headward element is the parent."""

    parent: Partner
    child: Partner
    pairs: tuple[tuple[Patch, Patch], ...]
    X_WJ: np.ndarray
    senses: tuple[int, int, int]

    @property
    def size(self) -> float:
        """s: that of the smaller element [m]."""
        return min(self.parent.size, self.child.size)


def read_vertebrae(folder: Path, names: set[str]) -> dict[str, Surface]:
    """Surfaces by name: the file's stem without BONE; T_1 … T_13 from the rib cage, from the head on."""
    found = {name: read_bodies(folder, f"BONE{name}.stl", 1.0)[0] for name in sorted(names) if name[0] != "T"}
    bodies = read_bodies(folder, "BONERibcage.stl", 1.0)
    dorsal = sorted(
        (body for body in bodies if abs(body.vertices[:, 1].mean()) < 2e-3 and body.vertices[:, 2].mean() > 0.45),
        key=lambda body: -body.vertices[:, 0].mean(),
    )
    assert len(dorsal) == 13
    return found | {f"T_{i}": body for i, body in enumerate(dorsal, start=1)}


def mirror(surface: Surface) -> Surface:
    """Left and right exchanged."""
    return Surface(surface.vertices * (1, -1, 1), surface.faces[:, ::-1])


def prepare_joints(surfaces: dict[str, Surface], children: tuple[str, ...] = NAMES[1:]) -> dict[str, ColumnJoint]:
    """The joints of these tailward elements, as `articulate` finds them."""
    solids = {name: survey_body(surfaces[name])[1] for name in NAMES}
    sizes = {name: solids[name].volume_m3 ** (1 / 3) for name in NAMES}
    neighbours: dict[str, list[str]] = {name: [] for name in NAMES}
    for one, other in pairwise(NAMES):
        neighbours[one].append(other)
        neighbours[other].append(one)
    axes, joints, partners = None, {}, {}
    for headward, tailward in pairwise(NAMES):
        axes = column_axes(solids[headward].centre_m, solids[tailward].centre_m, axes)
        if tailward not in children:
            continue
        for name in (headward, tailward):
            if name not in partners:
                finest = min(sizes[other] for other in neighbours[name])
                solid = solids[name]
                partners[name] = prepare_partner(name, surfaces[name], solid.volume_m3, solid.centre_m, finest)
        parent, child = partners[headward], partners[tailward]
        found = find_facets(parent, child, axes)
        assert found.centrum is not None
        frame = column_frame(*found.centrum, axes, False, min(parent.size, child.size))
        joints[tailward] = ColumnJoint(parent, child, found.pairs, frame.X_WJ, frame.senses)
    return joints


def prepare_all(surfaces: dict[str, Surface]) -> dict[str, Partner]:
    solids = {name: survey_body(surface) for name, surface in surfaces.items()}
    least = min(solid.volume_m3 for _, solid in solids.values()) ** (1 / 3)
    return {
        name: prepare_partner(
            name, surface, solid.volume_m3, solid.centre_m, max(least, solid.volume_m3 ** (1 / 3) / 2)
        )
        for name, (surface, solid) in solids.items()
    }


def read_labels(path: Path) -> list[dict]:
    content = json.loads(path.read_text(encoding="utf-8"))
    assert content["unit"] == "m"
    return content["joints"]
