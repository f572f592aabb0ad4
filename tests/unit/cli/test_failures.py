"""Every way to go wrong on the command line, and how the program speaks."""

from __future__ import annotations

import dataclasses
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from core_calcs.document.document import SCHEMA_VERSION
from core_calcs.document.reading import read_document, write_document
from core_calcs.skeleton.table import read_table, write_table
from core_calcs.spatial.errors import Cancelled
from tests.unit.cli.driving import Place, list_files, run

REPOSITORY = Path(__file__).parents[3]


def _newer(place: Place) -> None:
    text = place.document.read_text(encoding="utf-8")
    place.document.write_text(text.replace(f'"version": {SCHEMA_VERSION}', '"version": 99'), encoding="utf-8")


def _edit(index: int, **changes: object):
    def edit(place: Place) -> None:
        rows = list(read_table(place.table))
        rows[index] = dataclasses.replace(rows[index], **changes)
        write_table(place.table, rows)

    return edit


def _add_twin(place: Place) -> None:
    rows = read_table(place.table)
    write_table(place.table, (*rows, dataclasses.replace(rows[0], element="twin")))


def _cut(place: Place) -> None:
    place.document.write_bytes(place.document.read_bytes()[:-200])


def _write(name: str, content: bytes):
    return lambda place: (place.folder / name).write_bytes(content)


def _nothing(_place: Place) -> None:
    pass


SURVEY = ("survey", "{meshes}", "--table", "{table}")
NEWER = f"version 99; this program knows versions up to {SCHEMA_VERSION}"
ARTICULATE = ("articulate", "{table}", "--meshes", "{meshes}", "--document", "{folder}/new.json")
ASSESS = ("assess", "{document}")
HANDOVER = ("handover", "{document}", "{folder}/out")
FAILURES = [
    (_nothing, ("survey", "{folder}/none"), 3, "there is no such folder"),
    (lambda p: (p.folder / "bare").mkdir(), ("survey", "{folder}/bare"), 3, "it holds no STL"),
    (_nothing, ("survey", "{meshes}", "--unit", "furlong"), 3, "unknown unit 'furlong'"),
    (_edit(0, file="gone.stl"), SURVEY, 4, "there is no mesh file 'gone.stl'"),
    (_edit(0, file="../scans/T1.stl"), SURVEY, 4, "does not lie in the mesh folder"),
    (_edit(0, file="gone.stl"), ARTICULATE, 4, "there is no mesh file 'gone.stl'"),
    (_edit(0, file="../scans/T1.stl"), ARTICULATE, 4, "does not lie in the mesh folder"),
    (_edit(0, element="../T1"), ARTICULATE, 4, "cannot be a file's name"),
    (_edit(0, body=7), ARTICULATE, 4, "has no body 7"),
    (_edit(0, parent="nobody"), ARTICULATE, 4, "there is no element 'nobody'"),
    (_add_twin, ARTICULATE, 4, "is already in row 2"),
    (_write("scans/T1.stl", b""), ARTICULATE, 4, "cannot be used"),
    (_write("elements.csv", b""), ARTICULATE, 4, "it holds no rows"),
    (_write("elements.csv", b"\xff\xfe\x00"), ARTICULATE, 4, "not UTF-8"),
    (lambda p: p.table.unlink(), ARTICULATE, 4, "cannot be read"),
    (_nothing, (*ARTICULATE, "--material", "butter"), 1, "material 'butter'"),
    (_nothing, (*ARTICULATE, "--overlap-share", "2"), 2, "overlap-share"),
    (_nothing, (*ARTICULATE[:-1], "{folder}/none/new.json"), 7, "its folder is not there"),
    (_write("new.json", b"a letter"), ARTICULATE, 5, "it is not JSON"),
    (_newer, (*ARTICULATE[:-1], "{document}"), 5, NEWER),
    (_newer, (*ARTICULATE[:-1], "{document}", "--replace"), 5, NEWER),
    (_nothing, ("assess", "{folder}/none.json"), 5, "there is no such file"),
    (_newer, ASSESS, 5, NEWER),
    (_cut, ASSESS, 5, "it is cut off"),
    (_write("animal.json", b""), ASSESS, 5, "it is empty"),
    (_nothing, ("assess", "{meshes}/T1.stl"), 5, "not"),
    (_nothing, (*ASSESS, "--pose", "bold"), 6, "no pose of that name"),
    (_newer, HANDOVER, 5, NEWER),
    (_nothing, (*HANDOVER, "--pose", "bold"), 6, "no pose of that name"),
    (_write("scans/T1.stl", b"another scan"), HANDOVER, 5, "T1.stl"),
    (lambda p: (p.meshes / "T1.stl").unlink(), HANDOVER, 5, "T1.stl"),
    (_nothing, ("handover", "{document}", "{meshes}"), 7, "scans"),
    (_nothing, ("assess",), 2, "Missing argument"),
    (_nothing, ("juggle",), 2, "No such command"),
]


@pytest.mark.parametrize(
    ("spoil", "command", "code", "words"), FAILURES, ids=[f"{i}-{f[1][0]}-{f[3]:.25}" for i, f in enumerate(FAILURES)]
)
def test_a_failure_is_plain_and_writes_nothing(place, spoil, command, code, words):
    spoil(place)
    before = list_files(place.folder)
    names = {"folder": place.folder, "meshes": place.meshes, "table": place.table, "document": place.document}
    told = run(*(part.format(**names) for part in command), *(["--json"] if code != 2 else []))
    assert told.exit_code == code, told.stderr
    last = told.stderr.strip().splitlines()[-1]
    assert words in last
    assert "Traceback" not in told.output
    assert told.stdout == ""
    if code != 2:
        assert last.startswith("counterpoise: ")
        assert last.endswith(".")
    assert list_files(place.folder) == before


@pytest.mark.parametrize("interruption", [KeyboardInterrupt, Cancelled])
def test_an_interruption_ends_with_130(finished, monkeypatch, interruption):
    def interrupt(*_: object) -> None:
        raise interruption

    monkeypatch.setattr("core_calcs.cli.assessing.prepare", interrupt)
    told = run("assess", finished.document)
    assert told.exit_code == 130
    assert told.stderr.strip().splitlines()[-1].startswith("counterpoise: interrupted")


def test_what_nobody_foresaw_keeps_its_traceback(finished, monkeypatch):
    def fail(*_: object) -> None:
        raise ZeroDivisionError("an odd one")

    monkeypatch.setattr("core_calcs.cli.assessing.prepare", fail)
    told = run("assess", finished.document)
    assert told.exit_code == 70
    assert "ZeroDivisionError: an odd one" in told.stderr
    assert "Please report it" in told.stderr.splitlines()[-1]


def test_help_tells_the_commands_in_the_order_of_the_work():
    told = run("--help")
    assert told.exit_code == 0
    at = [told.stdout.index(f"\n  {name} ") for name in ("survey", "articulate", "assess", "handover")]
    assert at == sorted(at)


def _start(*arguments: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "core_calcs", *map(str, arguments)]
    env = {**os.environ, "PYTHONPATH": str(REPOSITORY), **environment}
    return subprocess.run(command, capture_output=True, env=env, check=False)


def test_it_speaks_plain_ascii_where_the_locale_knows_no_more(place):
    document = read_document(place.document)
    renamed = dataclasses.replace(document.skeleton, name="Ära")
    write_document(place.document, dataclasses.replace(document, skeleton=renamed))
    told = _start("assess", place.document, LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0")
    assert told.returncode == 0
    text = told.stdout.decode("ascii")
    assert "+ holds" in text
    assert "\\xc4ra: 10 elements" in text


def test_it_runs_as_a_module_into_a_pipe(finished):
    told = _start("assess", finished.document, "--json")
    assert told.returncode == 0
    assert json.loads(told.stdout)["assessments"][0]["pose"] == "as scanned"
    assert b"\x1b[" not in told.stdout + told.stderr
