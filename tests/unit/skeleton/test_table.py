"""The element table: there and back without loss, and every fault refused with its row."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from core_calcs.mesh.records import BodyRecord, FileRecord, Survey
from core_calcs.mesh.shape import Shape
from core_calcs.mesh.solid import Solid
from core_calcs.skeleton.table import COLUMNS, TableRow, hash_table, read_table, write_table
from core_calcs.skeleton.table_check import check_rows, check_table
from core_calcs.spatial.errors import OutputError, TableError


def make_record(number: int | None) -> BodyRecord:
    solid = Solid(1.0, 0.0, np.zeros(3), np.eye(3), -np.ones(3), np.ones(3), 12, ("closed",))
    return BodyRecord(number, solid, np.zeros((1, 3)), np.zeros((1, 3)), Shape(1.0, np.ones(3), np.zeros(3)))


def make_file(name: str, bodies: int = 1) -> FileRecord:
    records = tuple(make_record(number) for number in range(1, bodies + 1))
    return FileRecord(name, "", "mm", "read", "", make_record(None), records)


BROKEN = FileRecord("broken.stl", "", "mm", "unreadable", "broken.stl: truncated. Export it again.", None, ())
SURVEY = Survey("mm", (BROKEN, make_file("neck.stl", 3), make_file("pelvis.stl"), make_file("sacrum.stl")))
ROOT = TableRow("sacrum.stl", None, "mm", "Sacrum", "sacral", 1, "middle", "", "root", "", "scanned")
C2 = TableRow("neck.stl", 2, "mm", "C2", "cervical", 2, "middle", "Sacrum", "column", "", "not known")
C1 = TableRow("neck.stl", 1, "mm", "C1", "cervical", 1, "middle", "C2", "column", "", "mirrored")
PELVIS = TableRow(
    "pelvis.stl", None, "mm", "Pelvis", "girdle", None, "middle", "Sacrum", "fixed", "grown on", "sculpted"
)
OUT = TableRow(
    "broken.stl", None, "mm", "broken", "other", None, "middle", "", "left out", "it cannot be read", "not known"
)
RIB = TableRow("neck.stl", 3, "mm", "Rib", "ribs", 1, "left", "C1", "fixed", "between two", "scanned", also="C2")
ROWS = (ROOT, C2, C1, PELVIS, OUT)


def test_a_sound_table_passes() -> None:
    check_table(ROWS, SURVEY)


def test_there_and_back(tmp_path: Path) -> None:
    awkward = replace(PELVIS, element="Hüftbein ☃", reason='by "hand", 3 mm\nlower; glued')
    write_table(tmp_path / "t.csv", (*ROWS[:3], awkward, RIB))
    assert read_table(tmp_path / "t.csv") == (*ROWS[:3], awkward, RIB)
    assert (tmp_path / "t.csv").read_text(encoding="utf-8").splitlines()[0] == ",".join(COLUMNS)
    assert [path.name for path in tmp_path.iterdir()] == ["t.csv"]


@pytest.mark.parametrize("separator", [";", "\t"])
def test_what_spreadsheets_make_of_it(tmp_path: Path, separator: str) -> None:
    """A byte-order mark, other separators, Windows line ends, columns in another order, empty lines at the end."""
    path = tmp_path / "t.csv"
    write_table(path, ROWS)
    lines = [line.split(",") for line in path.read_text(encoding="utf-8").splitlines()]
    text = "\r\n".join(separator.join(reversed(line)) for line in lines) + "\r\n" + separator * 11 + "\r\n"
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert read_table(path) == ROWS


def test_columns_that_may_be_missing(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("file,unit,element,series,side,attachment\nsacrum.stl,mm,Sacrum,sacral,middle,root\n")
    (row,) = read_table(path)
    assert row == replace(ROOT, position=None, origin="not known")


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("", "t.csv", "holds no rows"),
        ("file,unit\n", "t.csv", "holds no rows"),
        ("file,unit,element\na,b,c\n", "row 1", "columns missing: series, side, attachment"),
        ("file,unit,element,series,side,attachment,colour\na,b,c,d,e,f,g\n", "row 1", "unknown column colour"),
        ("file,unit,element,series,side,attachment,unit\na,b,c,d,e,f,g\n", "row 1", "twice"),
        ("file,unit,element,series,side,attachment\na,mm,c\n", "row 2", "3 cells"),
        ("file,unit,element,series,side,attachment\na,parsec,c,other,left,root\n", "row 2", "unknown unit 'parsec'"),
        ("file,unit,element,series,side,attachment\na,mm,c,wing,left,root\n", "row 2", "unknown series 'wing'"),
        ("file,unit,element,series,side,attachment\na,mm,c,other,top,root\n", "row 2", "unknown side 'top'"),
        ("file,unit,element,series,side,attachment\na,mm,c,other,left,glued\n", "row 2", "unknown attachment"),
        ("file,unit,element,series,side,attachment,origin\na,mm,c,other,left,root,bought\n", "row 2", "unknown origin"),
        ("file,unit,element,series,side,attachment,body\na,mm,c,other,left,root,0\n", "row 2", "body '0'"),
        ("file,unit,element,series,side,attachment,body\na,mm,c,other,left,root,1.5\n", "row 2", "body '1.5'"),
        ("file,unit,element,series,side,attachment,position\na,mm,c,other,left,root,-2\n", "row 2", "position '-2'"),
    ],
)
def test_tables_that_cannot_be_read(tmp_path: Path, text: str, where: str, what: str) -> None:
    path = tmp_path / "t.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(TableError) as caught:
        read_table(path)
    assert where in caught.value.where
    assert what in caught.value.what


def test_files_that_are_no_tables(tmp_path: Path) -> None:
    with pytest.raises(TableError, match="cannot be read"):
        read_table(tmp_path / "nothing.csv")
    (tmp_path / "t.csv").write_bytes(b"\xff\xfe\x00f")
    with pytest.raises(TableError, match="not UTF-8"):
        read_table(tmp_path / "t.csv")


def test_writing_where_nothing_can_be_written(tmp_path: Path) -> None:
    with pytest.raises(OutputError):
        write_table(tmp_path / "no folder" / "t.csv", ROWS)


FAULTS = [
    (replace(PELVIS, file="hip.stl"), 5, "no mesh file 'hip.stl'"),
    (replace(PELVIS, file="../pelvis.stl"), 5, "does not lie in the mesh folder"),
    (replace(PELVIS, file="/pelvis.stl"), 5, "does not lie in the mesh folder"),
    (replace(PELVIS, body=2), 5, "no body 2, only 1"),
    (replace(PELVIS, file="broken.stl"), 5, "cannot be used"),
    (replace(PELVIS, unit="m"), 5, "surveyed in mm"),
    (replace(PELVIS, element=""), 5, "name is empty"),
    (replace(PELVIS, element=" Pelvis"), 5, "name is empty or begins"),
    (replace(PELVIS, element="x" * 64), 5, "longer than 63 bytes"),
    (replace(PELVIS, element="ü" * 32), 5, "longer than 63 bytes"),
    (replace(PELVIS, element="hip/left"), 5, "cannot be a file's name"),
    (replace(PELVIS, element="hip\\left"), 5, "cannot be a file's name"),
    (replace(PELVIS, element=".."), 5, "cannot be a file's name"),
    (replace(PELVIS, element="hip\tleft"), 5, "cannot be a file's name"),
    (replace(PELVIS, element="C1"), 5, "already in row 4"),
    (replace(PELVIS, element="c1"), 5, "already in row 4"),
    (replace(PELVIS, file="sacrum.stl"), 5, "already in row 2"),
    (replace(PELVIS, file="neck.stl", body=1), 5, "already in row 4"),
    (replace(PELVIS, file="neck.stl", body=None), 3, "as a whole"),
    (replace(PELVIS, parent="Ilium"), 5, "no element 'Ilium'"),
    (replace(PELVIS, parent=""), 5, "has no parent"),
    (replace(PELVIS, parent="broken"), 5, "no element 'broken'"),
    (replace(PELVIS, parent="Pelvis"), 5, "circle: Pelvis → Pelvis"),
    (replace(PELVIS, reason=" "), 5, "without a reason"),
    (replace(PELVIS, attachment="root", parent="", reason=""), 5, "row 2 is the root already"),
    (replace(PELVIS, series="wing"), 5, "unknown series"),  # type: ignore[arg-type]
]


@pytest.mark.parametrize(("row", "number", "what"), FAULTS)
def test_faults_are_refused_with_their_row(row: TableRow, number: int, what: str) -> None:
    with pytest.raises(TableError) as caught:
        check_table((ROOT, C2, C1, row, OUT), SURVEY)
    assert caught.value.where == f"element table, row {number}"
    assert caught.value.row == number
    assert what in caught.value.what
    assert caught.value.remedy


def test_no_root() -> None:
    with pytest.raises(TableError, match="no row is the root"):
        check_table((C2, C1, OUT), SURVEY)


def test_a_root_with_a_parent() -> None:
    with pytest.raises(TableError, match="the root has a parent"):
        check_table((replace(ROOT, parent="C1"), C2, C1), SURVEY)


def test_a_circle_is_shown() -> None:
    with pytest.raises(TableError, match="circle: C2 → C1 → C2"):
        check_table((ROOT, replace(C2, parent="C1"), C1), SURVEY)


def test_a_table_of_before_there_was_a_second_element_to_follow(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    columns = [name for name in COLUMNS if name != "also"]
    lines = [",".join(str(getattr(row, name) or "") for name in columns) for row in ROWS]
    path.write_text("\n".join([",".join(columns), *lines]), encoding="utf-8")
    assert read_table(path) == ROWS


def test_a_second_element_to_follow_may_hang_on_the_parent_or_bear_it() -> None:
    check_table((*ROWS, RIB), SURVEY)
    check_table((*ROWS, replace(RIB, parent="C2", also="C1")), SURVEY)
    check_rows((*ROWS, replace(RIB, also="nobody", attachment="left out", parent="")))  # it is not looked at


STRADDLING = replace(PELVIS, parent="C2", also="Sacrum")


@pytest.mark.parametrize(
    ("pelvis", "rib", "number", "what"),
    [
        (PELVIS, replace(RIB, also="C3"), 6, "no element 'C3' to follow"),
        (PELVIS, replace(RIB, also="broken"), 6, "no element 'broken' to follow"),
        (PELVIS, replace(RIB, also="Rib"), 6, "'Rib' is to follow itself"),
        (PELVIS, replace(RIB, also="C1"), 6, "parent and also of 'Rib' are both 'C1'"),
        (PELVIS, replace(RIB, also="Sacrum"), 6, "'Sacrum' is no neighbour of 'C1'"),
        (PELVIS, replace(RIB, also="Pelvis"), 6, "'Pelvis' is no neighbour of 'C1'"),
        (PELVIS, replace(RIB, attachment="column"), 6, "'Rib' is column, and cannot also follow 'C2'"),
        (PELVIS, replace(RIB, attachment="limb"), 6, "'Rib' is limb, and cannot also follow 'C2'"),
        (STRADDLING, replace(RIB, parent="C2", also="Pelvis"), 6, "hangs on 'Pelvis', which follows two itself"),
    ],
)
def test_what_cannot_be_followed_besides_the_parent(pelvis: TableRow, rib: TableRow, number: int, what: str) -> None:
    with pytest.raises(TableError) as caught:
        check_rows((ROOT, C2, C1, pelvis, rib, OUT))
    assert caught.value.row == number
    assert what in caught.value.what
    assert caught.value.remedy


def test_two_that_follow_each_other() -> None:
    """Each is the other's second element: neither has a place without the other's."""
    other = replace(RIB, file="hook.stl", body=None, element="Hook", parent="C1", also="Rib")
    with pytest.raises(TableError, match="row 6") as caught:
        check_rows((*ROWS[:4], replace(RIB, also="Hook"), other))
    assert "hangs on 'Hook', which follows two itself" in caught.value.what


@pytest.mark.parametrize(
    ("row", "what"),
    [
        (replace(PELVIS, reason=" "), "without a reason"),
        (replace(PELVIS, element="C2"), "already in row 3"),
        (replace(PELVIS, parent="Ilium"), "no element 'Ilium'"),
        (replace(PELVIS, parent="Pelvis"), "circle: Pelvis → Pelvis"),
    ],
)
def test_what_a_table_says_of_itself_needs_no_survey(row: TableRow, what: str) -> None:
    check_rows((ROOT, C2, C1, replace(PELVIS, file="elsewhere.stl"), OUT))
    with pytest.raises(TableError, match="row 5") as caught:
        check_rows((ROOT, C2, C1, row, OUT))
    assert what in caught.value.what


def test_a_changed_table_has_another_hash(tmp_path: Path) -> None:
    path = tmp_path / "elements.csv"
    assert hash_table(path) == ""
    write_table(path, ROWS)
    first = hash_table(path)
    write_table(path, ROWS)
    assert hash_table(path) == first
    write_table(path, ROWS[:-1])
    assert hash_table(path) not in ("", first)
    with pytest.raises(TableError, match="cannot be read"):
        hash_table(tmp_path)
