"""Everything that the elements of a table show when they are held against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..mesh.records import Survey
from ..skeleton.table import TableRow
from .arrangement import Arrangement, Link, arrange
from .finding import Finding
from .orientation import find_turned
from .origins import find_origins, list_likenesses
from .places import are_scattered, find_places, find_wide, measure_gaps
from .sides import find_exchanged_pairs, find_misnamed, find_swapped, find_used_twice
from .sizes import find_sizes
from .succession import find_exchanged, find_off_row, find_spacing
from .units import find_units


@dataclass(frozen=True)
class Inspection:
    """What an inspection found.

    findings : in the order of the table
    laid_out : the elements stand as a skeleton; where they do not, places, sides and orientations were not judged
    pairs : left and right of one element; mirrored : of these, exact mirror images of each other
    longest_m : diagonal of the box of the longest element that nothing was found of [m]
    """

    findings: tuple[Finding, ...]
    laid_out: bool
    pairs: int
    mirrored: int
    longest_m: float


def inspect(rows: Sequence[TableRow], survey: Survey) -> Inspection:
    """Hold the elements of a table against their partners, their neighbours in the row, and what they hang on.

    What explains an element is not told twice: one in the wrong unit is not told as too small as well.
    """
    arrangement = arrange(rows, survey)
    findings, known = find_units(arrangement)
    twice, found = find_used_twice(arrangement, known)
    known = known | found
    sized, found = find_sizes(arrangement, known)
    known = known | found
    findings += [*twice, *sized, *find_origins(arrangement, known), *find_misnamed(arrangement)]
    gaps = {link: gap for link, gap in measure_gaps(arrangement).items() if not known & set(link)}
    laid_out = not are_scattered(arrangement, gaps)
    if laid_out:
        findings += _judge_places(arrangement, known, gaps)
    order = {row.element: i for i, row in enumerate(rows)}
    findings.sort(key=lambda finding: order[finding.element])
    images = sum(likeness != "copy" for likeness in list_likenesses(arrangement).values())
    odd = {finding.element for finding in findings}
    longest = max((piece.diagonal for piece in arrangement.pieces if piece.name not in odd), default=0.0)
    return Inspection(tuple(findings), laid_out, len(arrangement.pairs), images, longest)


def _judge_places(arrangement: Arrangement, known: set[int], gaps: dict[Link, float]) -> list[Finding]:
    """Sides, order, places, gaps and orientations."""
    findings, swapped = find_swapped(arrangement, known)
    known = known | swapped
    exchanged, found = find_exchanged(arrangement, known)
    known = known | found
    off = find_off_row(arrangement, known)
    turned = find_turned(arrangement, known, set(off))
    off = {i: finding for i, finding in off.items() if i not in turned}
    known = known | set(off) | set(turned)
    spaced, between = find_spacing(arrangement, known)
    sound = {
        (c, p): gap
        for (c, p), gap in gaps.items()
        if not known & {c, p} and not between & {(c, p), (p, c)} and not _skips_number(arrangement, c, p)
    }
    placed, away = find_places(arrangement, sound, find_wide(arrangement, sound), known)
    crossed = find_exchanged_pairs(arrangement, known | away)
    return [*findings, *exchanged, *off.values(), *turned.values(), *spaced, *placed, *crossed]


def _skips_number(arrangement: Arrangement, child: int, parent: int) -> bool:
    """Whether numbers are missing between two elements of one row: a gap is to be expected."""
    row = next((row for row in arrangement.rows if child in row and parent in row), ())
    if not row:
        return False
    one, other = (arrangement.pieces[i].row.position or 0 for i in (child, parent))
    return abs(one - other) > 1
