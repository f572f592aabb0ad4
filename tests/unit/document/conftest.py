"""A small made-up skeleton that uses every key of the document."""

from __future__ import annotations

import numpy as np
import pytest

from core_calcs.build.build import (
    Build,
    Casting,
    Disc,
    ElementCasting,
    Material,
    SeriesCasting,
    Steelwork,
    Weighing,
)
from core_calcs.document.document import SkeletonDocument
from core_calcs.document.record import Record
from core_calcs.site.actions import Factors, Footing, PointAction, Wind
from core_calcs.site.site import Site
from core_calcs.skeleton.element import Element, Solid, Source, Void
from core_calcs.skeleton.joint import (
    AxisLimit,
    DiscThickness,
    Envelope,
    Facet,
    FacetSurface,
    FrameUncertainty,
    Joint,
    LimitSettings,
    Placing,
    Stop,
)
from core_calcs.skeleton.pose import Pose
from core_calcs.skeleton.tree import Contact, Foot, LeftOut, build_skeleton
from core_calcs.spatial.transforms import make_transform


def _element(name: str, series: str, position: int | None, x: float) -> Element:
    solid = Solid(
        0.1 + 0.2, 0.0, np.array([0.0, -0.0, 1 / 3]), np.eye(3) * 1e-300, -np.ones(3), np.ones(3), 12, ("closed",)
    )
    source = Source(f"scans/{name}.stl", None if position is None else position, 0.001, "0" * 63 + "a")
    void = Void(
        0.006, 1 / 7, 1e-9, np.array([0.0, 1e-3, 0.0]), np.eye(3) * 0.1, 0.3, np.array([0.0, 0.0, 2 / 3]), 1e-7, 1e-6
    )
    X_WE = make_transform(np.eye(3), [x, 0, 1])
    return Element(
        name, series, position, "middle", "scanned", source, solid, X_WE, (void,) if position is None else ()
    )


@pytest.fixture
def document() -> SkeletonDocument:
    """Sacrum, two tail vertebrae (one joint found, one by hand), a rib that is fixed, one foot, three poses."""
    elements = (
        _element("Kreuzbein ß", "sacral", None, 0.0),
        _element("caudal 1", "caudal", 1, -1.0),
        _element("caudal 2", "caudal", 2, -2.0),
        _element("肋骨 左", "ribs", None, 0.5),
    )
    stop = Stop(-0.25, "bone contact", np.array([0.1, 0.2, 0.3]))
    limit = AxisLimit(stop, Stop(0.5, "search range", None))
    facet = Facet(
        *("centrum", "caudal 1", np.array([0.1, 0.0, 0.0]), np.array([1.0, 0.0, 0.0]), 1e-4, -2e-4),
        *(np.eye(3), FacetSurface("sphere", -0.3, 1e-4), "faces its partner", "ambiguous"),
    )
    found = Joint(
        *("Kreuzbein ß", "caudal 1", "column", make_transform(np.eye(3), [-0.5, 0, 1]), (1, -1, 1)),
        *((limit, limit, limit), (facet,), "found", "three facets", LimitSettings()),
        envelope=Envelope(np.array([(-0.25, 0.5)] * 3), np.linspace(0.7, 1.4, 258).round(4)),
        frame_uncertainty=FrameUncertainty(0.002, 1 / 3, "the two end plates"),
        disc=DiscThickness(0.018, np.array([-0.014, 0.0, 1 / 3000]), "fresh ones have that"),
    )
    by_hand = Joint(
        *("caudal 1", "caudal 2", "by hand", make_transform(np.eye(3), [-1.5, 0, 1]), (1, 1, 1)),
        *(None, (), "by hand", 'the user says "so"\nand why', None),
    )
    rib = Joint(
        *("Kreuzbein ß", "肋骨 左", "fixed", make_transform(np.eye(3), [0.25, 0, 1]), (1, 1, 1)),
        *(
            None,
            (),
            "none",
            "a rib",
            None,
            None,
            (),
            Placing(make_transform(np.eye(3), [0.5, 0, 1 / 3]), "moved by hand"),
            "caudal 1",
            "caudal 1",
        ),
    )
    foot = Foot("tail tip", (Contact("caudal 2", np.array([[0.0, 0.0, -1.0], [0.0, 0.1, -1.0]])),), "by hand")
    left_out = (LeftOut("scans/tongue.stl", None, "not bone"), LeftOut("scans/ribs.stl", 3, "a copy"))
    skeleton = build_skeleton("Made-up", elements, (found, by_hand, rib), (foot,), left_out)
    poses = (
        Pose("neutral"),
        Pose(
            "turned",
            {"caudal 1": np.array([0.1, -0.2, 1e-17])},
            make_transform(np.eye(3), [0, 0, 0.1]),
            "a note",
            ("tail tip",),
        ),
        Pose(
            "as mounted before",
            X_WN=make_transform(np.eye(3), [0, 0, 0.2]),
            mounted={"caudal 1": make_transform(np.diag([-1.0, -1.0, 1.0]), [-1.0, 0.1, 1 / 3])},
        ),
    )
    build = Build(
        Material("bronze", 8700.0, 100.0, "made up for a test"),
        Casting("hollow", 0.006, 0.001, 0.05),
        (SeriesCasting("caudal", Casting()),),
        (
            ElementCasting("caudal 2", Casting("hollow", 1 / 300, 0.0, 0.1, 0.02)),
            ElementCasting("肋骨 左", Casting("bone", material=Material("bone", 1300.0, 400.0, "made up"))),
        ),
        (Weighing("caudal 1", 12.5, 0.1, "crane scales, 3 May"), Weighing("caudal 2", 7.25, 0.0, "")),
        0.002,
        (Disc("caudal 1", Material("rubber", 1100.0, 110.0, "made up"), 0.004, 0.001, 1 / 3000, 0.002, 0.0001),),
        (Steelwork("tail", "Kreuzbein ß", "caudal 2", "bar 20", 2.47, 0.15, "made up", 1.5),),
    )
    record = Record(
        *("correction", "turned", ("caudal 1",), "turned end for end", "the facets face the wrong way"),
        *("facets 0.31 s² against 0.05", "A. Ünbekannt", "2026-11-27T03:10:00Z"),
        before={"caudal 1": make_transform(np.diag([-1.0, -1.0, 1.0]), [-1.0, 0.1, 1 / 3])},
    )
    site = Site(
        datum_m=(0.5, -0.5, 0.0),
        friction=1 / 3,
        footings=(Footing("tail tip", 0.1, 2e6, 0.25, True, 1500.0),),
        actions=(
            PointAction("Stoß", "push", "caudal 1", (0.1, 0.0, 1 / 3), 1200.0),
            PointAction("a rope", "pull", "caudal 2", (0.0, 0.1, 0.0), 900.0, (0.6, 0.0, -0.8)),
        ),
        wind=Wind(650.0, 1.3),
        directions=24,
        factors=Factors(1.15, 0.85, 1.6, 0.6, 1.25),
    )
    return SkeletonDocument(skeleton, poses, build, site, "../meshes", (record,))
