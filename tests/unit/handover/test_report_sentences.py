"""Sentences of the report on a skeleton."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from core_calcs.document.document import SkeletonDocument
from core_calcs.handover.report_sentences import describe_facets
from core_calcs.skeleton.joint import Facet, FacetSurface


def make_facet(element: str, surface: FacetSurface | None, confidence: str) -> Facet:
    return Facet("centrum", element, np.zeros(3), np.eye(3)[0], 1e-4, 0.0, None, surface, "", confidence)


def test_facets_are_counted_by_surface_and_those_in_doubt_named(box_document: tuple[SkeletonDocument, Path]) -> None:
    skeleton = box_document[0].skeleton
    bare = replace(skeleton, joints=tuple(replace(joint, facets=()) for joint in skeleton.joints))
    assert describe_facets(bare) == ()
    facets = (
        make_facet("cervical 1", FacetSurface("plane", None, 2e-4), "found"),
        make_facet("cervical 2", FacetSurface("plane", None, 4e-4), "found"),
        make_facet("cervical 2", FacetSurface("sphere", -0.1, 9e-4), "ambiguous"),
        make_facet("dorsal 1", None, "ambiguous"),
    )
    joints = (replace(bare.joints[0], facets=facets), *bare.joints[1:])
    counted, unsure = describe_facets(replace(bare, joints=joints))
    assert counted == "4 facets are known: 2 on a plane, 1 on a sphere, their points 0.40 mm off it (median)."
    assert unsure == "Facets of cervical 2, dorsal 1 are in doubt; the document says why."
