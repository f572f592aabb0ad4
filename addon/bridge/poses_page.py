"""What the page of saved poses is made of: figures as the panel has them, surfaces as the scene shows them."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import bpy

from ..core_calcs.handover.comparison_page import choose_poses, write_page
from ..core_calcs.studies.assess import assess_prepared
from .clearance import known_clearance
from .comparison import list_checked
from .kept_document import keep_document
from .long_work import Calculation
from .scene_surfaces import read_surfaces
from .wind import known_acting


def prepare_page(scene: bpy.types.Scene, page: Path) -> Calculation:
    """The writing of the page of the poses checked, of all where none is, on plain values."""
    kept = keep_document(scene)
    document = kept.document
    poses = choose_poses(document, list_checked(scene))
    found = [
        assess_prepared(kept.prepared, pose, document.site, known_clearance(kept, pose), known_acting(kept, pose))
        for pose in poses
    ]
    return partial(write_page, document, poses, found, read_surfaces(scene, kept), page)
