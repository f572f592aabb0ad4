"""The table of alloys."""

from __future__ import annotations

import pytest

from core_calcs.build.materials import MATERIALS, default_build, find_material
from core_calcs.spatial.errors import CounterpoiseError


def test_every_alloy_says_where_its_density_comes_from():
    assert len({material.name for material in MATERIALS}) == len(MATERIALS)
    for material in MATERIALS:
        # Copper alloys cast for art and machines: 7400 to 8900 kg/m³ (common practice, no source).
        assert 7400 <= material.density_kg_m3 <= 8900
        assert 0 < material.density_uncertainty_kg_m3 < 0.05 * material.density_kg_m3
        assert len(material.source) > 10


def test_material_is_found_by_its_name():
    assert find_material("CuSn5Zn5Pb5-C (CC491K)").density_kg_m3 == 8700
    assert default_build().material in MATERIALS
    with pytest.raises(CounterpoiseError, match="unobtainium"):
        find_material("unobtainium")
