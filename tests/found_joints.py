"""The studies that look for joints, with the joints that this run of the tests has found: none is searched for twice.

For tests of what is done with joints. A test that asks whether a search finds the same anew takes the study itself.
"""

from __future__ import annotations

from functools import partial

from core_calcs.studies import articulate as articulating
from core_calcs.studies import (
    assembly,
    corrections,
    disc_thickness,
    marked_joints,
    missing_bones,
    putting_right,
    searched_joints,
)
from core_calcs.studies.joint_cache import open_cache

FOUND = open_cache()
"""In the folder that tests/conftest.py has made for this run."""

articulate = partial(articulating.articulate, cache=FOUND)
assemble_document = partial(assembly.assemble_document, cache=FOUND)
correct = partial(corrections.correct, cache=FOUND)
correct_by_verdict = partial(corrections.correct_by_verdict, cache=FOUND)
make_bone = partial(missing_bones.make_bone, cache=FOUND)
mark_document_joint = partial(marked_joints.mark_document_joint, cache=FOUND)
place_document_joint = partial(searched_joints.place_document_joint, cache=FOUND)
put_back = partial(corrections.put_back, cache=FOUND)
put_right = partial(putting_right.put_right, cache=FOUND)
restore_discs = partial(disc_thickness.restore_discs, cache=FOUND)
search_document_joint = partial(searched_joints.search_document_joint, cache=FOUND)
set_discs_thickness = partial(disc_thickness.set_discs_thickness, cache=FOUND)
