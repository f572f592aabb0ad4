"""What hangs on what: the tree of a proposed element table."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .candidate import Candidate, distance_of_ends, find_mirror_image, find_nearest
from .placing import order_column
from .straddling import find_straddling
from .table import Attachment

NO_BONY_JOINT = "no bony joint to the trunk: fixed as scanned; place it by hand"
BY_HAND = "this joint is set by hand so far: fixed as scanned"
NEAREST = "not recognised: fixed as scanned to the nearest element"

# kind: kinds of parent in order of preference, on the same side (or the middle) first, and why the joint is fixed;
# empty where a joint of the limb is looked for
_HANGS_ON: dict[str, tuple[tuple[str, ...], str]] = {
    "skull": (("cervical", "thoracic"), BY_HAND),
    "jaw": (("skull",), BY_HAND),
    "tooth": (("skull", "jaw"), "a tooth: fixed in its jaw"),
    "pelvis": (("sacrum", "sacral", "lumbar"), "fixed to the sacrum"),
    "rib": (("thoracic", "lumbar"), "a rib moves little: fixed as scanned to the vertebra at its head"),
    "costal cartilage": (("rib", "sternum"), "cartilage between rib and breastbone: fixed as scanned"),
    "sternum": (("costal cartilage", "rib", "thoracic"), "the breastbone hangs in cartilage: fixed as scanned"),
    "scapula": (("thoracic", "cervical"), NO_BONY_JOINT),
    "coracoid": (("scapula",), NO_BONY_JOINT),
    "clavicle": (("scapula", "sternum"), NO_BONY_JOINT),
    "chevron": (("caudal",), "a chevron straddles two vertebrae: fixed as scanned to the nearest"),
    "humerus": (("scapula", "coracoid"), ""),
    "ulna": (("humerus",), ""),
    "radius": (("ulna", "humerus"), "it turns with the ulna: fixed as scanned"),
    "femur": (("pelvis", "sacrum"), ""),
    "patella": (("femur",), "a bone within a tendon: fixed as scanned"),
    "fabella": (("femur",), "a bone within a tendon: fixed as scanned"),
    "tibia": (("femur",), ""),
    "fibula": (("tibia", "femur"), "it moves little on the tibia: fixed as scanned"),
}
_SPREADING: tuple[tuple[tuple[str, ...], str], ...] = ((("radius", "ulna"), "carpal"), (("tibia", "fibula"), "tarsal"))
_ABOUT_AS_NEAR_S = 0.15
"""In sizes (cube roots of the volume) of a tarsal: so much farther off a tibia may lie than the fibula and carry it."""
_OF_DIGITS = ("metacarpal", "metatarsal", "phalanx", "toe")
_ORDER = (
    "skull", "jaw", "tooth", "pelvis", "rib", "costal cartilage", "sternum", "chevron", "scapula", "coracoid",
    "clavicle", "humerus", "ulna", "radius", "femur", "patella", "fabella", "tibia", "fibula",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Hanging:
    """Where a piece hangs: parent None for the root; also: the second that it follows, half and half."""

    parent: Candidate | None
    attachment: Attachment
    reason: str
    also: Candidate | None = None


def hang_pieces(pieces: list[Candidate], middle_y: float) -> dict[Candidate, Hanging]:
    """A parent for every piece; one root. What is a mirror image of another hangs as that does."""
    root = choose_root(pieces)
    hung = {root: Hanging(None, "root", "")}
    _hang_column(pieces, root, hung)
    for kind in _ORDER:
        for piece in _of_kind(pieces, kind, hung):
            _hang_by_kind(piece, pieces, hung)
    for onto, kind in _SPREADING:
        _spread(pieces, onto, kind, hung)
    _prefer_tibia(pieces, hung)
    _hang_digits(pieces, hung)
    _hang_rest(pieces, hung)
    _mirror_parents(pieces, middle_y, hung)
    _add_seconds(order_column(pieces), middle_y, hung)
    return hung


def choose_root(pieces: list[Candidate]) -> Candidate:
    """The sacrum, else the first sacral vertebra, else the pelvis, else the largest piece on the mid-line."""
    for kind in ("sacrum", "sacral", "pelvis"):
        found = [piece for piece in pieces if piece.kind == kind]
        if found:
            return min(found, key=lambda piece: (piece.number or 0, -piece.volume))
    middle = [piece for piece in pieces if piece.side == "middle"] or pieces
    return max(middle, key=lambda piece: piece.volume)


def _of_kind(pieces: list[Candidate], kind: str, hung: dict[Candidate, Hanging]) -> list[Candidate]:
    return [piece for piece in pieces if piece.kind == kind and piece not in hung]


def _hang_column(pieces: list[Candidate], root: Candidate, hung: dict[Candidate, Hanging]) -> None:
    """Chain the vertebrae towards the root; without the root among them, towards the one nearest to it."""
    column = order_column(pieces)
    if not column:
        return
    if root in column:
        middle = column.index(root)
    else:
        nearest, _ = find_nearest(root, column)
        middle = next(i for i, piece in enumerate(column) if piece is nearest)
        hung[column[middle]] = Hanging(root, "fixed", BY_HAND)
    for i, piece in enumerate(column):
        if i != middle:
            inward = column[i + 1] if i < middle else column[i - 1]
            gap = _describe_gap(*((piece, inward) if i < middle else (inward, piece)))
            hung[piece] = Hanging(inward, "fixed" if gap else "column", gap)


def _describe_gap(ahead: Candidate, behind: Candidate) -> str:
    """Why two vertebrae that follow each other in the table do not meet; empty where they do."""
    if ahead.kind == behind.kind and ahead.number is not None and behind.number is not None:
        missing = behind.number - ahead.number - 1
        if missing > 0:
            vertebrae = "1 vertebra is" if missing == 1 else f"{missing} vertebrae are"
            return f"{vertebrae} missing between them: fixed as scanned"
    return ""


def _hang_by_kind(piece: Candidate, pieces: list[Candidate], hung: dict[Candidate, Hanging]) -> None:
    kinds, reason = _HANGS_ON[piece.kind]
    for kind in kinds:
        there = [other for other in pieces if other.kind == kind and other in hung]
        near = [other for other in there if "middle" in (other.side, piece.side) or other.side == piece.side] or there
        if piece.kind == "rib" and piece.number is not None:
            near = [other for other in near if other.number == piece.number] or near
        if piece.kind == "skull" and near:
            near = order_column(near)[:1]
        parent, _ = find_nearest(piece, near)
        if parent is not None:
            hung[piece] = Hanging(parent, "fixed" if reason else "limb", reason)
            return


def _spread(pieces: list[Candidate], onto: tuple[str, ...], kind: str, hung: dict[Candidate, Hanging]) -> None:
    """Hang pieces of a kind one by one, always the nearest next, on bones of the kinds before or on each other."""
    for side in ("left", "right", "middle"):
        there = [piece for piece in pieces if piece.kind in onto and piece in hung and piece.side == side]
        waiting = [piece for piece in _of_kind(pieces, kind, hung) if piece.side == side]
        _grow(there, waiting, hung, "limb", "")


def _prefer_tibia(pieces: list[Candidate], hung: dict[Candidate, Hanging]) -> None:
    """A tarsal whose nearest is the fibula hangs on the tibia where that is about as near: the bone that bears."""
    for piece in pieces:
        if piece.kind != "tarsal" or piece not in hung:
            continue
        parent = hung[piece].parent
        if parent is None or parent.kind != "fibula":
            continue
        tibiae = [other for other in pieces if other.kind == "tibia" and other.side == piece.side and other in hung]
        tibia, gap = find_nearest(piece, tibiae)
        if tibia is not None and gap <= find_nearest(piece, [parent])[1] + _ABOUT_AS_NEAR_S * np.cbrt(piece.volume):
            hung[piece] = replace(hung[piece], parent=tibia)


def _grow(
    there: list[Candidate],
    waiting: list[Candidate],
    hung: dict[Candidate, Hanging],
    attachment: Attachment,
    reason: str,
) -> None:
    """Prim's tree by least distance; nothing happens where there is nothing to hang on."""
    best = {piece: find_nearest(piece, there) for piece in waiting}
    while there and best:
        piece = min(best, key=lambda one: best[one][1])
        hung[piece] = Hanging(best.pop(piece)[0], attachment, reason)
        for other, (_, distance) in best.items():
            new = find_nearest(other, [piece])
            if new[1] < distance:
                best[other] = new


def _hang_digits(pieces: list[Candidate], hung: dict[Candidate, Hanging]) -> None:
    """Metapodials on wrist and ankle, toes on metapodials, phalanges end to end on them, sesamoids on the nearest."""
    for side in ("left", "right", "middle"):
        here = [piece for piece in pieces if piece.side == side]
        ends: list[Candidate] = []
        above_toes: list[Candidate] = []
        for kind, onto in (("metacarpal", ("carpal", "radius", "ulna")), ("metatarsal", ("tarsal", "tibia"))):
            carriers = _find_carriers(here, onto, hung)
            first = _hang_first(_of_kind(here, kind, hung), carriers, hung)
            ends += first
            above_toes += first or carriers
        toes = _hang_first(_of_kind(here, "toe", hung), above_toes, hung)
        carrying = {hung[toe].parent for toe in toes}
        ends = [*(end for end in ends if end not in carrying), *toes]
        loose = [piece for piece in here if piece.kind in _OF_DIGITS and piece not in hung]
        _chain_digits(ends, loose, hung)
        for piece in _of_kind(here, "sesamoid", hung):
            parent, _ = find_nearest(piece, [other for other in here if other in hung])
            if parent is not None:
                hung[piece] = Hanging(parent, "fixed", "a bone within a tendon: fixed as scanned")


def _find_carriers(here: list[Candidate], kinds: tuple[str, ...], hung: dict[Candidate, Hanging]) -> list[Candidate]:
    """Pieces of the first of the kinds that is there."""
    for kind in kinds:
        there = [piece for piece in here if piece.kind == kind and piece in hung]
        if there:
            return there
    return []


def _hang_first(pieces: list[Candidate], there: list[Candidate], hung: dict[Candidate, Hanging]) -> list[Candidate]:
    """Hang those that touch what is there, many on one if need be: metapodials, and toes of one piece.

    What lies beyond another's end is left to the digits.
    """
    first: list[Candidate] = []
    for piece in pieces:
        parent, gap = find_nearest(piece, there)
        beyond = [other for other in pieces if other is not piece and distance_of_ends(piece, other) < 0.5 * gap]
        nearer = [other for other in beyond if find_nearest(other, there)[1] < 0.5 * gap]
        if parent is not None and not nearer:
            hung[piece] = Hanging(parent, "limb", "")
            first.append(piece)
    return first


def _chain_digits(ends: list[Candidate], loose: list[Candidate], hung: dict[Candidate, Hanging]) -> None:
    """Hang each phalanx on the free end nearest to one of its own; a bone carries one phalanx."""
    gaps = {(end, piece): distance_of_ends(end, piece) for end in ends for piece in loose}
    waiting = list(loose)
    while gaps:
        end, piece = min(gaps, key=lambda pair: gaps[pair])
        named = "" if piece.kind in ("phalanx", "toe") else f"named a {piece.kind}, but it lies beyond {end.label}"
        hung[piece] = Hanging(end, "limb", named)
        waiting.remove(piece)
        gaps = {pair: gap for pair, gap in gaps.items() if pair[0] is not end and pair[1] is not piece}
        gaps |= {(piece, other): distance_of_ends(piece, other) for other in waiting}


def _hang_rest(pieces: list[Candidate], hung: dict[Candidate, Hanging]) -> None:
    """Whatever is left, always the nearest first, on whatever is nearest."""
    waiting = [piece for piece in pieces if piece not in hung]
    _grow(list(hung), waiting, hung, "fixed", NEAREST)


def _mirror_parents(pieces: list[Candidate], middle_y: float, hung: dict[Candidate, Hanging]) -> None:
    """Hang the right side as the left, so that a hair's breadth does not make the two differ."""
    lefts = [piece for piece in pieces if piece.side == "left"]
    rights = [piece for piece in pieces if piece.side == "right"]
    of_right = {piece: find_mirror_image(piece, lefts, middle_y) for piece in rights}
    of_left = {left: right for right, left in of_right.items() if left is not None}
    for right, left in of_right.items():
        if left is None or right not in hung or hung[right].attachment not in ("fixed", "limb"):
            continue
        parent = hung[left].parent
        if parent is not None and parent.side != "middle":
            parent = of_left.get(parent)
        if parent is not None and not _carries(right, parent, hung):
            hung[right] = Hanging(parent, hung[left].attachment, hung[left].reason)


def _add_seconds(column: list[Candidate], middle_y: float, hung: dict[Candidate, Hanging]) -> None:
    """Let ribs and chevrons that lie against two vertebrae follow both."""
    parents = {piece: hanging.parent for piece, hanging in hung.items()}
    for piece, found in find_straddling(parents, column, middle_y).items():
        hung[piece] = replace(hung[piece], also=found.also, reason=f"{hung[piece].reason}; {found.reason}")


def _carries(piece: Candidate, other: Candidate, hung: dict[Candidate, Hanging]) -> bool:
    """Whether `other` hangs, directly or not, on `piece`."""
    above: Candidate | None = other
    while above is not None and above is not piece:
        above = hung[above].parent
    return above is piece
