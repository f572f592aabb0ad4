"""Colours of bones and proxies by series, of facets and of states, told apart without colour sight. Free of Blender.

After the scheme of Okabe and Ito ("Color Universal Design", 2008), on the proxies half mixed with the colour of bone.
What the eye is to tell apart at one glance differs by 6 or more in CIELAB, and does so to eyes that lack one kind of
cone: `tests/unit/addon/test_palette.py` holds every pair. Nothing is told by colour alone.
"""

from __future__ import annotations

BONE_COLOURS = {
    "skull": (0.80, 0.47, 0.65),
    "cervical": (0.00, 0.45, 0.70),
    "dorsal": (0.95, 0.90, 0.25),
    "sacral": (0.34, 0.71, 0.91),
    "caudal": (0.00, 0.62, 0.45),
    "ribs": (0.60, 0.60, 0.60),
    "girdle": (0.90, 0.62, 0.00),
    "limb": (0.84, 0.37, 0.00),
    "other": (0.75, 0.75, 0.75),
}

FACET_COLOURS = {"parent": (0.00, 0.45, 0.70), "child": (0.90, 0.62, 0.00)}
"""Whose facet it is; how sure it is shows in fill and outline."""

STATE_COLOURS = {"close": (0.90, 0.62, 0.00), "fails": (0.84, 0.37, 0.00)}
"""Of what stands at a limit, and beyond one; always with words."""

STANDING_COLOURS = {"holds": (0.00, 0.62, 0.45), **STATE_COLOURS, "not known": (0.60, 0.60, 0.60)}
"""Of the support polygon, by the state of the margin; always with a sign and words."""

REACTION_COLOUR = (0.34, 0.71, 0.91)

MOMENT_COLOURS = {
    0.0: (0.42, 0.16, 0.60),
    0.25: (0.62, 0.20, 0.58),
    0.5: (0.84, 0.31, 0.48),
    0.75: (0.97, 0.57, 0.42),
    1.0: (0.99, 0.90, 0.62),
}
"""By the share of the greatest moment shown, mixed in between: lighter all the way, so that it reads without colour."""

RANGE_COLOURS = {0.0: (0.90, 0.62, 0.00), 1.0: (0.95, 0.90, 0.25), 3.0: (0.34, 0.71, 0.91), 10.0: (0.00, 0.45, 0.70)}
"""By how far inside its bony range a joint stands [deg], mixed in between; farther inside as the last."""

GHOST_COLOUR, GHOST_RIM = (0.80, 0.47, 0.65), (0.30, 0.10, 0.22)
"""Of an element where it once stood, and of the rim about it."""

GHOST_COLOURS = (
    (0.34, 0.71, 0.91),
    (0.90, 0.62, 0.00),
    (0.00, 0.62, 0.45),
    (0.95, 0.90, 0.25),
    (0.84, 0.37, 0.00),
    (0.00, 0.45, 0.70),
)
"""Of saved poses shown as ghosts, in this order; always with the pose's name."""

NOT_KNOWN_COLOUR = (0.60, 0.60, 0.60)

IVORY = (0.82, 0.78, 0.68)
TINT = 0.5

DULL, DULL_TINT = (0.42, 0.42, 0.42), 0.3
"""What the rig's bones are mixed with, and how much is left of their series."""


def rig_colour(series: str) -> tuple[float, float, float]:
    """Of a rig's bones: dull, so that what is drawn over them in full colour (range, facets, states) stands out."""
    red, green, blue = ((1 - DULL_TINT) * a + DULL_TINT * b for a, b in zip(DULL, BONE_COLOURS[series], strict=True))
    return red, green, blue


def proxy_colour(series: str) -> tuple[float, float, float, float]:
    """Of a series; of bone where it is empty."""
    own, share = BONE_COLOURS.get(series, IVORY), TINT if series else 0.0
    red, green, blue = ((1 - share) * ivory + share * tint for ivory, tint in zip(IVORY, own, strict=True))
    return red, green, blue, 1.0
