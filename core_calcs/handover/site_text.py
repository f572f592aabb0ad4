"""What is said of the site, in sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ..site.actions import Factors, Footing
from ..site.site import Site
from .quantities import NOT_KNOWN, format_quantity, format_setting


def list_site(site: Site) -> Iterator[str]:
    """What is said of a site, a line each."""
    ground, reserve = (format_quantity(value, "m") for value in (site.ground_m, site.reserve_m))
    yield f"Ground at {ground}; a margin below {reserve} is close."
    if site.datum_m is None:
        yield "Base moments about the middle of the support polygon."
    else:
        x, y, z = (format_quantity(value, "m") for value in site.datum_m)
        yield f"Base moments about x {x}, y {y}, z {z}."
    yield f"Friction: {NOT_KNOWN if site.friction is None else format_setting(site.friction, '').strip()}."
    if site.wind is None:
        yield "Wind: none."
    else:
        wind = site.wind
        yield (
            f"Wind: {format_setting(wind.pressure_Pa, 'Pa')} on the silhouette, force coefficient "
            f"{wind.force_coefficient:g}, from {site.directions} directions."
        )
    told = ", ".join(f"{name_factor(name)} {value:g}" for name, value in vars(site.factors).items())
    yield f"Partial factors{'' if site.factors == Factors() else ' (changed)'}: {told}."
    for footing in site.footings:
        yield f"{footing.foot}: {word_footing(footing)}."


def name_factor(name: str) -> str:
    """A partial factor as EN 1990 speaks of it."""
    return name.replace("_", " ").replace("against", "unfavourable").replace("for", "favourable")


def word_footing(footing: Footing, word: Callable[[float, str], str] = format_quantity) -> str:
    """What is under a foot: height, stiffness, friction, anchors; level ground where it is as everywhere.

    word : a figure in SI and its unit, "m" or "N", as text
    """
    told = [f"ground {word(footing.height_m, 'm')} above the site's"] if footing.height_m else []
    if footing.stiffness_N_m is not None:
        told.append(f"stiffness {format_setting(footing.stiffness_N_m / 1e6, 'kN/mm')}")
    if footing.friction is not None:
        told.append(f"friction {footing.friction:g}")
    if footing.anchored:
        held = "tension not known" if footing.anchor_N is None else f"holds {word(footing.anchor_N, 'N')}"
        told.append(f"anchored, {held}")
    return ", ".join(told) or "level ground"
