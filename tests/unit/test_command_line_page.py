"""docs/command-line.md says what is so: every option and exit code, and the survey's output on real bones."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from core_calcs.cli import main
from core_calcs.cli.failures import CHECK_FAILS, INTERRUPTED, UNEXPECTED
from core_calcs.spatial.errors import CounterpoiseError

PAGE = (Path(__file__).parents[2] / "docs" / "command-line.md").read_text(encoding="utf-8")


def _section(name: str) -> str:
    return PAGE.split(f"\n## {name}\n")[1].split("\n## ")[0]


@pytest.mark.parametrize(
    "name",
    [
        "survey",
        "articulate",
        "mark",
        "assemble",
        "cast",
        "discs",
        "steelwork",
        "audit",
        "neutral",
        "contacts",
        "place",
        "missing",
        "add-bone",
        "correct",
        "records",
        "site",
        "actions",
        "assess",
        "compare",
        "ranges",
        "handover",
    ],
)
def test_every_option_is_told_and_none_that_is_not_there(name):
    told = set(re.findall(r"^\| `(--[a-z0-9-]+)` \|", _section(name), re.MULTILINE))
    there = {option for parameter in main.commands[name].params for option in parameter.opts if option.startswith("--")}
    assert told == there


def test_every_command_has_its_section():
    assert {name for name in main.commands if f"\n## {name}\n" in PAGE} == set(main.commands)


def test_every_exit_code_is_told():
    told = {int(code) for code in re.findall(r"^\| (\d+) \|", _section("Exit codes"), re.MULTILINE)}
    errors = {CounterpoiseError, *CounterpoiseError.__subclasses__()}
    assert told == {0, 2, CHECK_FAILS, UNEXPECTED, INTERRUPTED} | {error.exit_code for error in errors}


@pytest.mark.dog
def test_the_survey_of_the_dog_is_what_it_says_today(dog_folder, tmp_path):
    table = tmp_path / "elements.csv"
    told = CliRunner().invoke(main, ["survey", str(dog_folder), "--unit", "m", "--table", str(table)])
    shown = _section("survey").split("```text\n")[1].split("```")[0]
    assert told.stdout.replace(str(table), "elements.csv") == shown
