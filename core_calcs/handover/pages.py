"""Pages as HTML that need nothing beside themselves: no file, no network, no script."""

from __future__ import annotations

import platform

import jinja2
import matplotlib
import numpy as np
import scipy

from .. import __version__
from .svg import FONT_STACK


def render_page(template: str, **values: object) -> str:
    """A template filled in; one that asks for what is not given is an error."""
    templates = jinja2.Environment(
        loader=jinja2.PackageLoader(__package__),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.filters["css_text"] = escape_css
    return templates.get_template(template).render(font_stack=FONT_STACK, versions=list_versions(), **values)


def escape_css(text: str) -> str:
    """Any text as the inside of a CSS string (CSS Syntax Module Level 3, escapes)."""
    return "".join(c if c.isalnum() or c in " ,." else f"\\{ord(c):x} " for c in text)


def list_versions() -> str:
    """The programs that the figures come from."""
    return (
        f"Counterpoise {__version__}, Python {platform.python_version()}, numpy {np.__version__}, "
        f"scipy {scipy.__version__}, matplotlib {matplotlib.__version__}"
    )
