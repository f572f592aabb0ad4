"""Figures as SVG that can stand inside a page: no outside references, no names that could clash."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import matplotlib
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

FONT_STACK = "'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"

_STYLE: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "counterpoise",
    "font.family": "DejaVu Sans",  # comes with matplotlib; wider than what is shown in its place
    "font.size": 7.5,
    "axes.linewidth": 0.5,
    "axes.edgecolor": "#555555",
    "axes.labelcolor": "#333333",
    "axes.labelsize": 7.5,
    "xtick.color": "#555555",
    "ytick.color": "#555555",
    "xtick.labelcolor": "#333333",
    "ytick.labelcolor": "#333333",
    "xtick.labelsize": 7,
    "ytick.labelsize": 7,
    "xtick.major.width": 0.5,
    "ytick.major.width": 0.5,
    "xtick.major.size": 2.5,
    "ytick.major.size": 2.5,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.unicode_minus": True,
    "legend.frameon": False,
    "legend.fontsize": 7,
    "lines.linewidth": 1.1,
    "text.usetex": False,
}


@contextmanager
def figure_style() -> Iterator[None]:
    """The look of all figures; settings of whoever else uses matplotlib in the process are left as they were."""
    with matplotlib.rc_context(_STYLE):
        yield


def figure_to_svg(figure: Figure, name: str, title: str) -> str:
    """The figure as one `<svg>` element for a page.

    Parameters
    ----------
    name : unique on the page; put before every id
    title : what a reader who does not see the figure is told
    """
    text = io.StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    FigureCanvasSVG(figure).print_figure(text, format="svg", metadata=nothing)
    svg = text.getvalue()
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<style[^>]*>.*?</style>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<defs>\s*</defs>", "", svg)
    svg = re.sub(r"<!--.*?-->", "", svg, flags=re.DOTALL)
    svg = svg.replace("xlink:href=", "href=").replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "")
    svg = re.sub(r'\bid="', f'id="{name}-', svg)
    svg = svg.replace("url(#", f"url(#{name}-").replace('href="#', f'href="#{name}-')
    svg = svg.replace("'DejaVu Sans'", FONT_STACK).replace("DejaVu Sans", FONT_STACK)
    head, body = svg.split(">", 1)
    head = re.sub(r'\s(width|height)="[^"]*"', "", head)
    return f'{head} role="img" aria-labelledby="{name}-title"><title id="{name}-title">{_escape(title)}</title>{body}'


def _escape(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
