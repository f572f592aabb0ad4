"""The catalogues hold every word that is looked up, with the same values put in, and no other."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.composed_words import find_composed
from tests.translated_words import ADDON, collect_all, collect_words, list_places, load_catalogues, tell_state

catalogues = load_catalogues()
PATHS = sorted((ADDON / "translations").glob("*.po"))


def test_there_is_a_catalogue_to_prove_it() -> None:
    assert "es" in [path.stem for path in PATHS]


@pytest.mark.parametrize("path", PATHS, ids=[path.stem for path in PATHS])
def test_a_catalogue_holds_what_is_said_and_nothing_else(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    catalogue = catalogues.read_catalogue(path)
    said = {(word.context, word.text) for word in collect_all()}
    if said != set(catalogue):
        tell_state()
        pytest.fail(f"{path.name} and the sources differ: translate or drop these\n{capsys.readouterr().out}")


@pytest.mark.parametrize("path", PATHS, ids=[path.stem for path in PATHS])
def test_a_template_keeps_its_values(path: Path) -> None:
    catalogue = catalogues.read_catalogue(path)
    templates = {key for key in catalogue if "{" in key[1]}
    assert templates
    assert [key for key in templates if list_places(key[1]) != list_places(catalogue[key])] == []


@pytest.mark.parametrize("path", PATHS, ids=[path.stem for path in PATHS])
def test_an_entry_stands_once(path: Path) -> None:
    entries = path.read_text(encoding="utf-8").count('\nmsgid "') - 1  # the heading
    assert entries == len(catalogues.read_catalogue(path))


def test_words_are_collected_from_every_place(tmp_path: Path) -> None:
    (tmp_path / "sample.py").write_text(SAMPLE, encoding="utf-8")
    found = {(word.context, word.text) for word in collect_words(tmp_path)}
    labels = {"Shown", "Tip", "Title", "Asked", "Why", "Item", "Of it", "Heading", "Wrapped", "Told", "Lack", "{a} so"}
    kept = {"file {a}", "it is gone", "{file}: gone", "reading {a}"}
    operators = {("Operator", "Run"), ("Operator", "Go")}
    assert found == {("*", label) for label in labels} | operators | {("Counterpoise", text) for text in kept}


def test_nothing_shown_is_glued_together() -> None:
    composed = find_composed()
    assert composed == [], "say these as one literal with named values:\n" + "\n".join(composed)


def test_what_is_glued_together_is_found(tmp_path: Path) -> None:
    (tmp_path / "panels").mkdir()
    (tmp_path / "panels" / "sample.py").write_text(COMPOSED, encoding="utf-8")
    found = {line.partition(": ")[2] for line in find_composed(tmp_path)}
    assert found == {"{} wrong", "None: ", "{} joint{}", " and more"}


def test_a_catalogue_is_read_as_gettext_has_it(tmp_path: Path) -> None:
    path = tmp_path / "xx.po"
    path.write_text(CATALOGUE, encoding="utf-8")
    assert catalogues.read_catalogue(path) == {("*", 'A "b"\n'): "long line", ("Operator", "Run"): "Correr"}


@pytest.mark.parametrize(("line", "number"), [('msgstr "a', 2), ("msgstr a", 2), ("msgstr 3", 2), ("what is this", 2)])
def test_a_bad_line_is_named_and_costs_that_language_alone(tmp_path: Path, line: str, number: int) -> None:
    (tmp_path / "xx.po").write_text(f'msgid "A"\n{line}\n', encoding="utf-8")
    (tmp_path / "yy.po").write_text('msgid "A"\nmsgstr "B"', encoding="utf-8")
    read, faults = catalogues.read_catalogues(tmp_path)
    assert read == {"yy": {("*", "A"): "B"}}
    assert len(faults) == 1
    assert faults[0].startswith(f"xx.po, line {number}: ")


CATALOGUE = r"""
msgid ""
msgstr ""
"Language: xx\n"

#: a.py
msgid "A \"b\"\n"
msgstr ""
"long "
"line"
#, fuzzy
msgid "Doubtful"
msgstr "Dudoso"

msgctxt "Operator"
msgid "Run"
msgstr "Correr"

msgid "Not yet"
msgstr ""
"""

COMPOSED = """
def draw(layout, names, force, problem):
    layout.label(text=f"{len(names)} wrong")
    layout.label(text="None: " + problem)
    text = f"{len(names)} joint{'s' if len(names) > 1 else ''}"
    layout.label(text=", ".join(names) + " and more", icon="INFO")
    layout.label(text=f"{force:.3g} kN, {names[0]}: {problem}")
    layout.label(text=say("{count} wrong", count=len(names)))
    what = f"the file {names[0]} is gone"
    raise MeshFileError(names[0], what, f"look for {problem}")
"""

SAMPLE = '''
WRAPPED = "Wrapped"
GONE = "{file}: gone"
KINDS = [("KEY", "Item", "Of it")]


class Run(Step, bpy.types.Operator):
    """Tip"""

    bl_idname = "sample.run"
    bl_label = "Run"
    name: bpy.props.StringProperty(name="Asked", description="Why", default="not said")

    @classmethod
    def name_lack(cls, context):
        return super().name_lack(context) or ("" if context else "Lack")

    def work(self, context):
        return "Told"

    def draw(self, context):
        self.layout.label(text="Shown" if context else "42")
        self.layout.column(heading="Heading")
        self.layout.operator("sample.run", text="Go")
        write_wrapped(self.layout, context, WRAPPED)
        self.report({"INFO"}, say("{a} so", a=1))
        context.window_manager.invoke_props_dialog(self, title="Title")
        progress(f"reading {self.name}", 0.0)
        self.problem = GONE.format(file=self.name)
        what = "it is gone"
        raise MeshFileError(f"file {self.name}", what, self.problem)
'''
