"""The pages in the installed zip: each panel's question mark and F1 over a button find theirs."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import bpy
import pytest
from scenes import PACKAGE


@pytest.fixture
def pages() -> Path:
    return import_module(f"{PACKAGE}.operators.pages").PAGES


def test_each_panel_has_its_page_in_the_zip(pages: Path) -> None:
    panels = [own for own in bpy.types.Panel.__subclasses__() if own.__name__.startswith("COUNTERPOISE_PT_")]
    with_heading = [own for own in panels if "HIDE_HEADER" not in getattr(own, "bl_options", ())]
    assert len(with_heading) > 20
    for own in with_heading:
        name = own.__name__.removeprefix("COUNTERPOISE_PT_")
        assert (pages / "panels" / f"{name}.html").is_file(), name
    assert (pages / "pages.css").is_file()


def test_a_button_leads_to_its_page(pages: Path) -> None:
    find = bpy.types.WM_OT_doc_view_manual._lookup_rna_url
    assert find("bpy.ops.counterpoise.search_joint", verbose=False) == (pages / "panels" / "joint.html").as_uri()
    assert find("bpy.ops.counterpoise.open_page", verbose=False) == f"{(pages / 'blender.html').as_uri()}#from-a-script"


def test_a_page_that_is_not_there_is_refused() -> None:
    with pytest.raises(RuntimeError, match=r"nothing\.html is missing"):
        bpy.ops.counterpoise.open_page(page="panels/nothing")
