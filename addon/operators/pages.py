"""The pages of the docs that come with the add-on: from a panel's question mark, and from F1 over a button."""

from __future__ import annotations

from pathlib import Path

import bpy

from ..translations.phrases import look_up, say

PAGES = Path(__file__).resolve().parents[1] / "docs"

OPERATORS = {
    "panels/begin": "open_demo choose_scans",
    "panels/scans": "survey_folder",
    "panels/elements": "read_table write_table select_element",
    "panels/skeleton": (
        "import_skeleton open_document save_document build_rig check_meshes find_meshes choose_skeleton "
        "remove_skeleton take_in_skeleton part_documents"
    ),
    "panels/audit": "audit_orientation show_verdict put_right",
    "panels/joints": "set_joint mark_facet",
    "panels/assembly": "assemble",
    "panels/missing": "add_bone",
    "panels/places": "take_element place_element restore_place straddle",
    "panels/records": "put_back",
    "panels/pose": "reset_pose stand plant_feet",
    "panels/posing_tools": (
        "turn_joint bend_chain reach look_at move_body roll_foot mirror_pose flip_side neutral_chain nearest_allowed "
        "blend_pose"
    ),
    "panels/references": "add_reference remove_reference",
    "panels/joint": "search_joint show_frame take_frame drop_frame disc_thickness",
    "panels/contacts": "add_contact remove_contact let_bear",
    "panels/castings": "cast weigh forget_weighing set_alloy",
    "panels/parts": "set_discs remove_discs lay_steelwork remove_steelwork",
    "panels/site": ("set_site set_wind measure_wind set_factors set_footing remove_footing add_action remove_action"),
    "panels/poses": (
        "restore_pose delete_pose save_pose rename_pose duplicate_pose move_pose note_pose compare_poses select_pose "
        "keep_pose_order write_poses_page poses_to_keyframes remove_pose_keyframes"
    ),
    "panels/clearance": "check_clearance check_again allow_clearance show_hit",
    "panels/handover": "hand_over",
}
"""Names of operators by the page that tells of them; all others: the page with the table of operators."""

INDEX = "panels/index"

_pointed_to = ""
"""The page that the last error named; empty once a step has gone well."""


def find_page(operator: str) -> str:
    """The page that tells of an operator, by its name in scripts; empty where it has none of its own."""
    own = operator.rpartition(".")[2]
    return next((page for page, names in OPERATORS.items() if own in names.split()), "")


def name_page(page: str) -> str:
    """A page as its panel is called, in the interface's language."""
    panel = getattr(bpy.types, f"COUNTERPOISE_PT_{page.rpartition('/')[2]}")
    return " ".join(look_up(panel.bl_label).split())


def point_to(page: str) -> None:
    """Let the question mark that opens this page stand out; none where it is empty."""
    global _pointed_to
    _pointed_to = page


def is_pointed_to(page: str) -> bool:
    """Whether the last error named this page."""
    return bool(page) and page == _pointed_to


class COUNTERPOISE_OT_open_page(bpy.types.Operator):
    """Open the page on this panel in the web browser. It comes with the add-on and works offline"""

    bl_idname = "counterpoise.open_page"
    bl_label = "Open Page"
    bl_options = {"INTERNAL"}  # noqa: RUF012  Blender wants a plain set

    page: bpy.props.StringProperty(
        name="Page", description="Its path in the docs, without its ending; empty: the one that the last error named"
    )

    def execute(self, _context: bpy.types.Context) -> set[str]:
        page = PAGES / f"{self.page or _pointed_to or INDEX}.html"
        if not page.is_file():
            self.report({"ERROR"}, say("{page} is missing: install the add-on's zip again", page=page))
            return {"CANCELLED"}
        return bpy.ops.wm.url_open(url=page.as_uri())


def list_manual() -> tuple[str, tuple[tuple[str, str], ...]]:
    """Where Blender's own Online Manual, and F1, lead to over a button: the page's address by the operator's name."""
    pages = [
        (f"bpy.ops.counterpoise.{name}", f"{page}.html") for page, names in OPERATORS.items() for name in names.split()
    ]
    return f"{PAGES.as_uri()}/", (*pages, ("bpy.ops.counterpoise.*", "blender.html#from-a-script"))


def register() -> None:
    bpy.utils.register_class(COUNTERPOISE_OT_open_page)
    bpy.utils.register_manual_map(list_manual)


def unregister() -> None:
    bpy.utils.unregister_manual_map(list_manual)
    bpy.utils.unregister_class(COUNTERPOISE_OT_open_page)
