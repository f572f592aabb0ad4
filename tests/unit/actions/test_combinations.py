"""The worst over all combinations: by writing every one of them out."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from core_calcs.actions.combinations import CHARACTERISTIC, find_worst, list_strength, spread_round
from core_calcs.site.actions import Factors

ALONG = {1: np.array([[1.0], [-1.0]]), 2: spread_round()}


def write_out(permanent, variable, expressions, shares):
    """The greatest norm over expressions, both factors on the self-weight, each leading, every way or none."""
    best, count = 0.0, len(variable)
    for expression in expressions:
        for leading in range(count) if expression.leads and count else (-1,):
            weights = expression.weigh(np.asarray(shares), leading)
            for ways in product(*(range(-1, len(own)) for own in variable)):
                acting = sum(weights[a] * variable[a][w] for a, w in enumerate(ways) if w >= 0)
                for factor in (expression.least, expression.greatest):
                    best = max(best, float(np.linalg.norm(factor * permanent + acting)))
    return best


@pytest.mark.parametrize("components", [1, 2])
@pytest.mark.parametrize("reduction", [1.0, 0.85])
def test_the_worst_by_brute_force(rng, components, reduction):
    expressions = (*CHARACTERISTIC, *list_strength(Factors(reduction=reduction)))
    permanent = rng.normal(size=(60, components)) * 2
    variable = [rng.normal(size=(ways, 60, components)) for ways in (9, 5, 1)]
    shares = [0.7, 0.6, 0.5]
    found = find_worst(permanent, variable, expressions, shares, ALONG[components])
    for c in range(60):
        expected = write_out(permanent[c], [own[:, c] for own in variable], expressions, shares)
        assert found.value[c] == pytest.approx(expected, rel=1e-12)
    factors = found.list_factors(expressions, np.array(shares))
    vectors = found.permanent[:, None] * permanent
    for a, own in enumerate(variable):
        vectors = vectors + factors[:, a, None] * own[found.ways[:, a], np.arange(60)]
    np.testing.assert_allclose(np.linalg.norm(vectors, axis=1), found.value, rtol=1e-12)


def test_one_way_round_alone_may_be_below_zero():
    """Compression where all that acts pulls: less than nothing, with what pulls least."""
    found = find_worst([[10.0]], [np.array([[[5.0]], [[2.0]]])], CHARACTERISTIC, [0.7], [[-1.0]])
    assert found.value[0] == -10.0
    assert found.ways[0, 0] == -1
    assert found.leading[0] == -1
