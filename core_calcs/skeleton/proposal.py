"""A first element table from the names, places and sizes of what was surveyed; the user edits it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import PurePosixPath
from typing import cast

from ..mesh.records import BodyRecord, FileRecord, Survey, describe_body
from ..spatial.errors import TableError
from .bone_names import read_bone_name, strip_common_prefix
from .candidate import Candidate, find_mirror_image
from .element import Origin, Series, Side
from .parents import Hanging, hang_pieces
from .placing import find_middle, judge_side, recognise_trunk
from .table import NAME_BYTES, WORDS, TableRow

FEW = 3
"""So many files are named where none can be used."""
GROUP_SHARE = 0.5
"""A file of several bodies is a group of elements where its largest body holds less than this of their volume."""
FRAGMENT_SHARE = 1e-4
"""In a group, a body smaller than this share of the largest is a loose fragment."""

_SERIES: dict[str, Series] = {
    **dict.fromkeys(("skull", "jaw", "tooth", "hyoid", "eye"), "skull"),
    "cervical": "cervical",
    **dict.fromkeys(("thoracic", "lumbar"), "dorsal"),
    **dict.fromkeys(("sacrum", "sacral"), "sacral"),
    **dict.fromkeys(("caudal", "chevron"), "caudal"),
    "rib": "ribs",
    **dict.fromkeys(("scapula", "coracoid", "clavicle", "sternum", "pelvis"), "girdle"),
    **dict.fromkeys(("humerus", "radius", "ulna", "carpal", "metacarpal", "phalanx", "toe", "sesamoid"), "limb"),
    **dict.fromkeys(("femur", "patella", "fabella", "tibia", "fibula", "tarsal", "metatarsal"), "limb"),
}
_LEFT_OUT = {
    "eye": "a soft part: an eye is not cast with the skeleton",
    "hyoid": "a bone of the tongue: it hangs in soft tissue alone",
    "cartilage": "cartilage: a soft part",
}


def propose_table(survey: Survey) -> tuple[TableRow, ...]:
    """One row for every file or body, those left out included, in the order of the files.

    Breastbone and pelvis are of the series girdle; thoracic and lumbar vertebrae are numbered on as one series
    dorsal; costal cartilages and what is not recognised are `other`.

    Raises
    ------
    TableError : nothing in the survey can be an element
    """
    pieces = _list_pieces(survey)
    middle_y = find_middle([piece for piece in pieces if piece.record])
    pieces = [_settle_side(piece, middle_y) for piece in pieces]
    kept = recognise_trunk([piece for piece in pieces if not piece.left_out])
    if not kept:
        few = "; ".join(piece.left_out.rstrip(".") for piece in pieces[:FEW])
        more = f"; and {len(pieces) - FEW} more" if len(pieces) > FEW else ""
        what = f"no file in it can be an element: {few}{more}"
        raise TableError("the folder", what, "choose the folder of the scans, or export them again")
    kept = _share_pair_names(kept, middle_y)
    hung = hang_pieces(kept, middle_y)
    every = [*kept, *(piece for piece in pieces if piece.left_out)]
    every.sort(key=lambda piece: (piece.file, piece.body or 0))
    names = _name_pieces(every)
    positions = _count_positions(kept)
    rows = (_make_row(piece, names, hung.get(piece), positions.get(piece)) for piece in every)
    return tuple(_take_origin(survey, row) for row in rows)


def _take_origin(survey: Survey, row: TableRow) -> TableRow:
    """The row with the origin that its file says of itself, where that was made here."""
    mark = survey.find_mark(row.file)
    known = mark is not None and mark.origin in WORDS["origin"]
    return replace(row, origin=cast(Origin, mark.origin)) if mark is not None and known else row


def _list_pieces(survey: Survey) -> list[Candidate]:
    stems = strip_common_prefix([PurePosixPath(file.file).stem for file in survey.files])
    pieces: list[Candidate] = []
    for file, stem in zip(survey.files, stems, strict=True):
        name = read_bone_name(stem)
        kind = "" if name.kind == "rib cage" else name.kind
        number = name.number if kind else None  # a catalogue number places nothing
        side = name.side or "middle"
        whole = Candidate(file.file, None, file.unit, kind, name.label, number, side, False, file.whole)
        if file.whole is None:
            pieces.append(replace(whole, left_out=file.problem))
        elif not kind and _is_group(file):
            most = max(body.solid.volume_m3 for body in file.bodies)
            pieces += [_take_body(whole, body, most) for body in file.bodies]
        else:
            pieces.append(replace(whole, left_out=_LEFT_OUT.get(kind, "") or _describe_copy(file.whole)))
    return pieces


def _is_group(file: FileRecord) -> bool:
    volumes = [body.solid.volume_m3 for body in file.bodies]
    return len(volumes) > 1 and max(volumes) < GROUP_SHARE * sum(volumes)


def _take_body(whole: Candidate, body: BodyRecord, most: float) -> Candidate:
    reason = _describe_copy(body)
    if not reason and body.solid.volume_m3 < FRAGMENT_SHARE * most:
        reason = "a loose fragment"
    label = f"{whole.label}_{body.number}"
    return replace(whole, body=body.number, label=label, number=None, grouped=True, record=body, left_out=reason)


def _describe_copy(record: BodyRecord) -> str:
    if record.duplicate_of is not None:
        return f"the same geometry as {describe_body(*record.duplicate_of)}"
    return "no triangle encloses anything" if record.solid.volume_m3 <= 0 else ""


def _settle_side(piece: Candidate, middle_y: float) -> Candidate:
    """The side by place; a vertebra named as such is on the mid-line wherever a bent column puts it."""
    if piece.record is None or piece.kind in ("cervical", "thoracic", "lumbar", "sacrum", "sacral", "caudal"):
        return replace(piece, side="middle")
    solid = piece.record.solid
    return replace(piece, side=judge_side(solid.lower_m, solid.upper_m, middle_y))


def _share_pair_names(pieces: list[Candidate], middle_y: float) -> list[Candidate]:
    """Give a piece on the right the name of its mirror image on the left, where they are named differently."""
    taken = Counter((piece.label, piece.side) for piece in pieces)
    named: list[Candidate] = []
    lefts = [piece for piece in pieces if piece.side == "left"]
    for piece in pieces:
        partner = find_mirror_image(piece, lefts, middle_y) if piece.side == "right" else None
        differs = partner is not None and partner.label != piece.label
        if partner is not None and differs and taken[partner.label, "right"] <= taken[partner.label, "left"]:
            piece = replace(piece, label=partner.label, number=partner.number)
        named.append(piece)
    return named


def _name_pieces(pieces: Sequence[Candidate]) -> dict[Candidate, str]:
    """Names that are unique, end in .L or .R on the sides, and are short enough for Blender."""
    names: dict[Candidate, str] = {}
    used: set[str] = set()
    for piece in sorted(pieces, key=lambda piece: bool(piece.left_out)):
        ending = {"left": ".L", "right": ".R", "middle": ""}[piece.side]
        base = piece.label.replace("/", "_").replace("\\", "_")
        for number in range(1, len(pieces) + 2):
            tail = (f"_{number}" if number > 1 else "") + ending
            room = NAME_BYTES - len(tail.encode())
            name = base.encode()[:room].decode(errors="ignore") + tail
            if name.casefold() not in used:
                break
        used.add(name.casefold())
        names[piece] = name
    return names


def _count_positions(pieces: list[Candidate]) -> dict[Candidate, int | None]:
    """Place in the series: thoracic and lumbar run on as one; limbs and girdles have none."""
    thoracic = max((piece.number or 0 for piece in pieces if piece.kind == "thoracic"), default=0)
    first_lumbar = min((piece.number or 0 for piece in pieces if piece.kind == "lumbar"), default=1)
    shift = thoracic if first_lumbar <= thoracic else 0
    positions: dict[Candidate, int | None] = {}
    for piece in pieces:
        if piece.kind in ("cervical", "thoracic", "sacral", "caudal", "rib"):
            positions[piece] = piece.number
        elif piece.kind == "lumbar" and piece.number is not None:
            positions[piece] = piece.number + shift
        elif piece.kind == "sacrum":
            positions[piece] = 1
    return positions


def _make_row(piece: Candidate, names: dict[Candidate, str], hanging: Hanging | None, position: int | None) -> TableRow:
    series = _SERIES.get(piece.kind, "other")
    side: Side = piece.side
    start = (piece.file, piece.body, piece.unit, names[piece], series, position, side)
    if hanging is None:
        return TableRow(*start, "", "left out", piece.left_out, "not known")
    parent, also = (names[other] if other is not None else "" for other in (hanging.parent, hanging.also))
    return TableRow(*start, parent, hanging.attachment, hanging.reason, "not known", also=also)
