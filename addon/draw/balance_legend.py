"""What the signs of the balance mean: scale of the foot forces, colours of the moments; in the lower right corner."""

from __future__ import annotations

import blf
import gpu
import numpy as np

from ..properties.palette import MOMENT_COLOURS, NOT_KNOWN_COLOUR, REACTION_COLOUR
from ..translations.phrases import look_up, tell
from .balance import Balance, cut_pieces
from .labels import Box
from .marks import place_legend
from .strokes import GROUND, draw_box, draw_edged, draw_triangles, lay_flat, screen_scale, write_text

TEXT_PX, PAD_PX, SIGN_PX, BAR_PX = 11.0, 8.0, 26.0, 8.0
"""Height of letters, room around, width of signs, height of the bar."""

TITLE_FEET = "Foot forces"
TITLE_MOMENTS = "Moment at the joints"
ON_RIGID = "range on a rigid base"
UNKNOWN = "not known"


def draw_balance_legend(found: Balance, taken: list[Box]) -> None:
    """Above the legends that are there. taken : their boxes; gets this one's"""
    if not found.reactions and found.moments is None:
        return
    scale = screen_scale()
    blf.size(0, TEXT_PX * scale)
    line, pad = (TEXT_PX + 6) * scale, PAD_PX * scale
    feet = [found.arrows, look_up(ON_RIGID)] if found.reactions else []
    lines = (len(feet) + 1 if feet else 0) + (3 if found.moments is not None else 0)
    width = _measure_width(found, feet, scale)
    height = lines * line + 2 * pad + (pad if feet and found.moments is not None else 0) - 6 * scale
    box = place_legend(width, height, taken)
    width = box[2] - box[0]
    gpu.state.blend_set("ALPHA")
    draw_box(box, (GROUND, GROUND))
    y = box[3] - pad - TEXT_PX * scale
    if feet:
        write_text(look_up(TITLE_FEET), box[0] + pad, y)
        _draw_arrow_sign(box[0] + pad, y - line, scale)
        write_text(feet[0], box[0] + pad + SIGN_PX * scale, y - line)
        _draw_span_sign(box[0] + pad, y - 2 * line, scale)
        write_text(feet[1], box[0] + pad + SIGN_PX * scale, y - 2 * line)
        y -= 3 * line + pad
    if found.moments is not None:
        write_text(look_up(TITLE_MOMENTS), box[0] + pad, y)
        _draw_ramp(found, box[0] + pad, y - line, width - 2 * pad, scale)
    gpu.state.blend_set("NONE")


def _measure_width(found: Balance, feet: list[str], scale: float) -> float:
    """Of the widest line."""
    widths = [SIGN_PX * scale + blf.dimensions(0, text)[0] for text in feet]
    titles = (TITLE_FEET if feet else "", TITLE_MOMENTS if found.moments is not None else "")
    widths += [blf.dimensions(0, look_up(title))[0] for title in titles]
    if found.moments is not None:
        widths.append(
            sum(blf.dimensions(0, tick)[0] for tick in ("0", found.moments.top, tell(UNKNOWN))) + 6 * PAD_PX * scale
        )
    return max(widths) + 2 * PAD_PX * scale


def _draw_arrow_sign(x: float, y: float, scale: float) -> None:
    low, high, middle = y - 2 * scale, y + (TEXT_PX + 1) * scale, x + 6 * scale
    colour = (*REACTION_COLOUR, 1.0)
    draw_edged(lay_flat(np.array([(middle, low), (middle, high - 6 * scale)])), colour, 3 * scale)
    head = np.array([(middle, high), (middle - 5 * scale, high - 7 * scale), (middle + 5 * scale, high - 7 * scale)])
    draw_triangles(lay_flat(head), colour)


def _draw_span_sign(x: float, y: float, scale: float) -> None:
    low, high, middle = y - 1 * scale, y + TEXT_PX * scale, x + 6 * scale
    ticks = [(middle + side * 4 * scale, end) for end in (low, high) for side in (-1, 1)]
    light = (*(0.5 + 0.5 * np.array(REACTION_COLOUR)), 0.9)
    draw_edged(lay_flat(np.array([(middle, low), (middle, high), *ticks])), light, 2 * scale, 0.75)


def _draw_ramp(found: Balance, x: float, y: float, width: float, scale: float) -> None:
    """The colours from none to the greatest, growing in height as the lines do in width; what is not known beside."""
    moments, pad = found.moments, PAD_PX * scale
    if moments is None:
        return
    unknown = blf.dimensions(0, tell(UNKNOWN))[0]
    bar = width - unknown - 2 * pad
    marks, tints = list(MOMENT_COLOURS), [(*tint, 1.0) for tint in MOMENT_COLOURS.values()]
    for i in range(len(marks) - 1):
        high = y + BAR_PX * scale * (0.4 + 0.6 * marks[i + 1])
        draw_box((x + marks[i] * bar, y, x + marks[i + 1] * bar, high), (tints[i], tints[i + 1]))
    dashes = np.array([(x + bar + 2 * pad, y + 4 * scale, 0), (x + width, y + 4 * scale, 0)])
    pieces, _ = cut_pieces(dashes[None], np.zeros((1, 2)))
    draw_edged(pieces[::2].reshape(-1, 3), (*NOT_KNOWN_COLOUR, 1.0), 3 * scale)
    low = y - (TEXT_PX + 5) * scale
    for share, tick in ((0.0, "0"), (1.0, moments.top)):
        write_text(tick, x + share * (bar - blf.dimensions(0, tick)[0]), low)
    write_text(tell(UNKNOWN), x + bar + 2 * pad, low)
