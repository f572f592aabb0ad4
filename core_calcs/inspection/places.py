"""Places: elements far from what they hang on and from what hangs on them."""

from __future__ import annotations

import numpy as np

from .arrangement import Arrangement, Link
from .clouds import measure_gap
from .finding import Finding, in_mm
from .succession import LEAST_ROW

FAR = 0.35
"""A gap is wide where it exceeds what is expected by this share of the smaller element's diagonal."""
FAR_ALONE = 1.0
"""The same where nothing tells what to expect."""
SCATTERED = 0.4
"""From this share of such gaps on the elements are not laid out as a skeleton, and no place is judged."""


def measure_gaps(arrangement: Arrangement) -> dict[Link, float]:
    """Least distance of every element to what it hangs on [m]."""
    pieces = arrangement.pieces
    return {(c, p): measure_gap(pieces[c].tree, pieces[p].tree) for c, p in arrangement.links}


def find_wide(arrangement: Arrangement, gaps: dict[Link, float]) -> dict[Link, str]:
    """Links with a gap wider than it should be, and in words what was expected."""
    pieces, wide = arrangement.pieces, {}
    for (child, parent), gap in gaps.items():
        expected, words = _expect_gap(arrangement, gaps, child, parent)
        least = min(pieces[child].diagonal, pieces[parent].diagonal)
        if expected is None:
            if gap > FAR_ALONE * least and _stands_alone(arrangement, child):
                wide[child, parent] = "nothing else is within its own length"
        elif gap > expected + FAR * least:
            wide[child, parent] = words
    return wide


def are_scattered(arrangement: Arrangement, gaps: dict[Link, float]) -> bool:
    """Whether the elements do not stand as a skeleton at all: many are farther off than the smaller is long."""
    pieces = arrangement.pieces
    far = [gap > FAR_ALONE * min(pieces[c].diagonal, pieces[p].diagonal) for (c, p), gap in gaps.items()]
    return sum(far) > SCATTERED * max(1, len(far))


def find_places(
    arrangement: Arrangement, gaps: dict[Link, float], wide: dict[Link, str], known: set[int]
) -> tuple[list[Finding], set[int]]:
    """Elements that stand away from all they are linked with; a single wide gap is told of what hangs beyond it."""
    links = {link for link in gaps if not known & set(link)}
    left = {link: words for link, words in wide.items() if link in links}
    findings, found = [], set()
    while left:
        i = max(left_numbers(left), key=lambda i: _rank(arrangement, i, links, left))
        own = [link for link in left if i in link]
        if len(own) <= sum(i in link for link in links) / 2:
            break
        findings.append(_tell(arrangement, i, own[0], gaps, left))
        found.add(i)
        links = {link for link in links if i not in link}
        left = {link: words for link, words in left.items() if i not in link}
    for link in left:
        findings.append(_tell(arrangement, link[0], link, gaps, left, " with all that hangs on it"))
    return findings, found


def _stands_alone(arrangement: Arrangement, i: int) -> bool:
    """Whether no other element's bounding box is within its own diagonal."""
    solid, solids = arrangement.pieces[i].record.solid, [piece.record.solid for piece in arrangement.pieces]
    lower, upper = np.stack([s.lower_m for s in solids]), np.stack([s.upper_m for s in solids])
    apart = np.linalg.norm(np.maximum(0, np.maximum(lower - solid.upper_m, solid.lower_m - upper)), axis=1)
    apart[i] = np.inf
    return float(apart.min()) > FAR_ALONE * arrangement.pieces[i].diagonal


def left_numbers(wide: dict[Link, str]) -> set[int]:
    """Every element at a wide gap."""
    return {i for link in wide for i in link}


def _rank(arrangement: Arrangement, i: int, links: set[Link], wide: dict[Link, str]) -> tuple[float, ...]:
    """More than half of its gaps wide, many of them, and far from where its partner lets expect it."""
    own, every = sum(i in link for link in wide), sum(i in link for link in links)
    partner = arrangement.partners.get(i)
    off = 0.0
    if partner is not None:
        pieces = arrangement.pieces
        off = float(np.linalg.norm(pieces[i].middle - arrangement.mirror(pieces[partner].middle)))
    return float(own > every / 2), own, own / every, off


def _expect_gap(arrangement: Arrangement, gaps: dict[Link, float], child: int, parent: int) -> tuple[float | None, str]:
    """What the gap is on the other side, else the usual one in the row; None where nothing tells."""
    partners = arrangement.partners
    mirrored = (partners.get(child, child), partners.get(parent, parent))
    if mirrored != (child, parent) and mirrored in gaps:
        return gaps[mirrored], f"on the other side it is {in_mm(gaps[mirrored])}"
    row = next((row for row in arrangement.rows if child in row and len(row) >= LEAST_ROW), ())
    parents = dict(arrangement.links)
    k = row.index(child) if row else 0
    alike = [gaps[i, parents[i]] for i in row[max(0, k - 2) : k + 3] if i != child and (i, parents.get(i, -1)) in gaps]
    if alike:
        return max(alike), f"of its neighbours in the row none more than {in_mm(max(alike))}"
    return _expect_of_kind(arrangement, gaps, child, parent)


def _expect_of_kind(
    arrangement: Arrangement, gaps: dict[Link, float], child: int, parent: int
) -> tuple[float | None, str]:
    """What three quarters of its kind keep to, as chevrons without positions; any of its parent's kind may be near."""
    pieces = arrangement.pieces
    kin = [gap for (i, _), gap in gaps.items() if i != child and pieces[i].kind == pieces[child].kind]
    if len(kin) < LEAST_ROW:
        return None, ""
    usual = float(np.quantile(kin, 0.75))
    others = (piece for piece in pieces if piece.kind == pieces[parent].kind)
    if any(measure_gap(pieces[child].tree, other.tree) <= usual + FAR * other.diagonal for other in others):
        return gaps[child, parent], ""
    return usual, f"of three quarters of its kind none more than {in_mm(usual)}"


def _tell(
    arrangement: Arrangement, i: int, link: Link, gaps: dict[Link, float], wide: dict[Link, str], more: str = ""
) -> Finding:
    piece, other = arrangement.pieces[i], arrangement.pieces[link[0] if link[1] == i else link[1]]
    what = f"stands {in_mm(gaps[link])} away from {other.name}{more}; {wide[link]}"
    return Finding("place", piece.name, what, "bring it back to its place and export it again, or correct its parent")
