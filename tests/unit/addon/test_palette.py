"""Colours are told apart by eyes that lack one kind of cone, and by those that lack none."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from tests.unit.addon.by_path import load

palette = load("properties/palette")

APART = 10.0
"""Least difference in CIELAB of overlays' colours: four times what is just seen, 2.3 (Mahy, Van Eycken and Oosterlinck,
Color Res. Appl. 19, 1994: from memory)."""

TOUCHING_APART = 6.0
"""The same of series that touch: half mixed with the colour of bone they are calmer, and the shapes part them too."""

EYES = {
    "all cones": np.eye(3),
    # G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291-1298, table
    # of severity 1.0, for linear RGB; held against two public transcriptions.
    "no red cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no blue cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}

TOUCHING = (
    ("skull", "cervical"),
    ("cervical", "dorsal"),
    ("dorsal", "sacral"),
    ("sacral", "caudal"),
    ("dorsal", "ribs"),
    ("girdle", "sacral"),
    ("girdle", "ribs"),
    ("girdle", "limb"),
)

SETS = {
    "states": palette.STANDING_COLOURS,
    "facets": palette.FACET_COLOURS,
    "ranges": {
        **palette.RANGE_COLOURS,
        "beyond": palette.STATE_COLOURS["fails"],
        "not known": palette.NOT_KNOWN_COLOUR,
    },
    "moments": {**palette.MOMENT_COLOURS, "not known": palette.NOT_KNOWN_COLOUR},
    "ghosts": {**dict(enumerate(palette.GHOST_COLOURS)), "as mounted": palette.GHOST_COLOUR},
}


def decode(shown: tuple[float, ...]) -> np.ndarray:
    """Linear RGB of a screen's values (IEC 61966-2-1)."""
    own = np.array(shown)
    return np.where(own <= 0.04045, own / 12.92, ((own + 0.055) / 1.055) ** 2.4)


def to_lab(linear: np.ndarray, eyes: str) -> np.ndarray:
    """CIELAB of a linear RGB colour as those eyes see it, white D65 (IEC 61966-2-1, CIE 015)."""
    seen = np.clip(EYES[eyes] @ linear, 0.0, 1.0)
    to_xyz = [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
    shares = np.array(to_xyz) @ seen / (0.95047, 1.0, 1.08883)
    x, y, z = np.where(shares > 216 / 24389, np.cbrt(shares), (24389 / 27 * shares + 16) / 116)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


@pytest.mark.parametrize("eyes", EYES)
def test_white_stays_white(eyes: str) -> None:
    """Every row of a matrix sums to 1: grey is grey to all eyes."""
    np.testing.assert_allclose(EYES[eyes].sum(axis=1), 1.0, atol=2e-6)


@pytest.mark.parametrize("eyes", EYES)
@pytest.mark.parametrize("name", SETS)
def test_colours_of_one_overlay_are_told_apart(name: str, eyes: str) -> None:
    for one, other in combinations(SETS[name], 2):
        apart = np.linalg.norm(np.subtract(*(to_lab(decode(SETS[name][own]), eyes) for own in (one, other))))
        assert apart > APART, (one, other, round(float(apart), 1))


@pytest.mark.parametrize("eyes", EYES)
def test_series_that_touch_are_told_apart(eyes: str) -> None:
    """The materials' colours are linear."""
    for pair in TOUCHING:
        one, other = (to_lab(np.array(palette.proxy_colour(series)[:3]), eyes) for series in pair)
        assert np.linalg.norm(one - other) > TOUCHING_APART, pair


@pytest.mark.parametrize("eyes", EYES)
def test_moments_read_by_lightness(eyes: str) -> None:
    """Moments grow lighter all the way; so their order is seen whatever the hue."""
    light = [to_lab(decode(colour), eyes)[0] for colour in palette.MOMENT_COLOURS.values()]
    assert all(after > before + 2 for before, after in pairwise(light))


def test_a_red_and_a_green_of_one_lightness_would_be_told() -> None:
    """The check sees what those eyes do not."""
    red, green = np.array([0.45, 0.08, 0.05]), np.array([0.09, 0.19, 0.05])
    assert np.linalg.norm(to_lab(red, "all cones") - to_lab(green, "all cones")) > 60
    assert np.linalg.norm(to_lab(red, "no green cones") - to_lab(green, "no green cones")) < 25


@pytest.mark.parametrize("series", palette.BONE_COLOURS)
def test_a_bone_of_the_rig_is_not_taken_for_a_state(series: str) -> None:
    """What is drawn over bones in full colour stands out from the colours of the bones themselves."""
    own = to_lab(decode(palette.rig_colour(series)), "all cones")
    drawn = {**palette.RANGE_COLOURS, **palette.STATE_COLOURS}
    near = [name for name, tint in drawn.items() if np.linalg.norm(own - to_lab(decode(tint), "all cones")) < 25.0]
    assert not near
