"""The demo's animal with its made-up joints as a skeleton document with its meshes, and how the six targets stand.

    python tests/posing_targets/files.py FOLDER

For the test in Blender, which has nothing of the project but the zip. FOLDER/animal.json, FOLDER/bones/*.stl;
FOLDER/targets.npz: motions (targets, elements, 4, 4) from neutral, in the skeleton's order.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from animal import make_animal
from targets import draw_poses

from core_calcs.build.materials import default_build
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.reading import write_document
from core_calcs.handover.stl import write_binary_stl
from core_calcs.mesh.reading import hash_file
from core_calcs.mesh.surface import Surface
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Source
from core_calcs.skeleton.kinematics import joint_motions
from core_calcs.skeleton.tree import build_skeleton


def main() -> None:
    folder = Path(sys.argv[1])
    (folder / "bones").mkdir(parents=True, exist_ok=True)
    animal = make_animal()
    elements = []
    for element, vertices, faces in zip(animal.skeleton.elements, animal.vertices, animal.faces, strict=True):
        path = folder / "bones" / f"{element.name}.stl"
        write_binary_stl(path, Surface(vertices, faces), np.eye(4), element.name)
        elements.append(replace(element, source=Source(path.name, None, 0.001, hash_file(path))))
    skeleton = build_skeleton(animal.skeleton.name, elements, animal.skeleton.joints)
    write_document(folder / "animal.json", SkeletonDocument(skeleton, (), default_build(), Site(), "bones"))
    motions = [joint_motions(skeleton, pose) for pose in draw_poses(skeleton)]
    np.savez_compressed(folder / "targets.npz", motions=np.array(motions))


if __name__ == "__main__":
    main()
