"""The pages that come with the add-on: every link leads somewhere, every panel and every operator has its page."""

from __future__ import annotations

import ast
import re
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]


class Page(HTMLParser):
    """What a page links to and shows, and the names in it that links can lead to."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.targets: list[str] = []
        self.names: set[str] = set()
        self.feed(path.read_text("utf-8"))

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        given = dict(attributes)
        self.targets += [given[name] or "" for name in ("href", "src") if name in given]
        if given.get("id"):
            self.names.add(str(given["id"]))


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    sys.path.insert(0, str(TOP))
    from build_pages import write_pages

    out = tmp_path_factory.mktemp("docs")
    assert len(write_pages(TOP / "docs", out)) > 30
    return out


def test_every_link_leads_somewhere(pages: Path) -> None:
    read = {path: Page(path) for path in pages.rglob("*.html")}
    lost = []
    for path, page in read.items():
        for target in page.targets:
            place, _, name = target.partition("#")
            if re.match(r"[a-z]+:", target):
                continue
            there = (path.parent / place).resolve() if place else path
            if not there.is_file() or (name and name not in read[there].names):
                lost.append(f"{path.relative_to(pages)}: {target}")
    assert lost == []


def test_every_panel_has_its_page(pages: Path) -> None:
    """Under its own name, with its own heading; the index leads to all of them."""
    index = Page(pages / "panels" / "index.html").targets
    seen = set()
    for path in (TOP / "addon" / "panels").glob("*.py"):
        for own in [node for node in ast.parse(path.read_text("utf-8")).body if isinstance(node, ast.ClassDef)]:
            given = {node.targets[0].id: node.value for node in own.body if isinstance(node, ast.Assign)}
            if not own.name.startswith("COUNTERPOISE_PT_") or "HIDE_HEADER" in ast.unparse(
                given.get("bl_options", ast.Constant(""))
            ):
                continue
            name = own.name.removeprefix("COUNTERPOISE_PT_")
            page = pages / "panels" / f"{name}.html"
            assert page.is_file(), f"docs/panels/{name}.md is missing, for the panel {own.name}"
            heading = re.search(r"<h1[^>]*>(.*?)</h1>", page.read_text("utf-8"))
            assert heading
            assert heading[1].split() == ast.literal_eval(given["bl_label"]).split()
            assert f"{name}.html" in index
            seen.add(page)
    assert {*seen, pages / "panels" / "index.html"} == set((pages / "panels").iterdir())


def test_operators_lead_to_pages_that_are_there(pages: Path) -> None:
    source = ast.parse((TOP / "addon" / "operators" / "pages.py").read_text("utf-8"))
    (given,) = [n.value for n in source.body if isinstance(n, ast.Assign) and n.targets[0].id == "OPERATORS"]
    told = ast.literal_eval(given)
    written = " ".join(path.read_text("utf-8") for path in (TOP / "addon" / "operators").glob("*.py"))
    known = set(re.findall(r'bl_idname = "counterpoise\.(\w+)"', written))
    assert {name for names in told.values() for name in names.split()} <= known
    assert [page for page in told if not (pages / f"{page}.html").is_file()] == []
