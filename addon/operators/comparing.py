"""Two to six saved poses side by side, in a table that stays open until it is closed."""

from __future__ import annotations

from collections.abc import Sequence

import bpy

from ..bridge.comparison import FEWEST, MOST, NOTES, ComparedPoses, compare_checked, list_checked, write_comparison
from ..bridge.figures import refresh_figures
from ..bridge.long_work import Calculation
from ..bridge.poses_page import prepare_page
from ..core_calcs.spatial.errors import CounterpoiseError
from ..properties.icons import STATE_ICONS
from ..properties.paths import PATH_OPTIONS
from ..translations.phrases import say, tell
from .long_step import AsksForPath
from .step import NeedsSkeleton, require_path

HEAD_PX, COLUMN_PX = 190, 150
"""Of the table: width of the heads, of a pose's column."""

BEST, WORST = "SOLO_ON", "TRIA_DOWN"


class COUNTERPOISE_OT_compare_poses(NeedsSkeleton, bpy.types.Operator):
    """The poses that are checked in the list, side by side"""

    bl_idname = "counterpoise.compare_poses"
    bl_label = "Poses Side by Side"

    @classmethod
    def name_lack(cls, context: bpy.types.Context) -> str:
        if lack := super().name_lack(context):
            return lack
        count = len(list_checked(context.scene))
        return "" if FEWEST <= count <= MOST else say("Check two to six poses in the list; {count} are", count=count)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        refresh_figures(context)
        width = HEAD_PX + COLUMN_PX * len(list_checked(context.scene))
        return context.window_manager.invoke_props_dialog(self, width=width, confirm_text="Write to Text Block")

    def draw(self, context: bpy.types.Context) -> None:
        compared = compare_checked(context.scene)
        if compared is None:
            self.layout.label(text="Fewer than two of them could be computed", icon=STATE_ICONS["not known"])
        else:
            draw_comparison(self.layout, compared)

    def work(self, context: bpy.types.Context) -> str:
        refresh_figures(context)
        compared = compare_checked(context.scene)
        if compared is None:
            what = "fewer than two of the poses checked could be computed"
            raise CounterpoiseError("saved poses", what, "see in the list what is wrong with them")
        write_comparison(compared)
        return say("Written to the text block {name}", name=NOTES)


class COUNTERPOISE_OT_write_poses_page(NeedsSkeleton, AsksForPath, bpy.types.Operator):
    """Write the poses checked, all where none is, on one page: pictures, notes, figures side by side, bars"""

    bl_idname = "counterpoise.write_poses_page"
    bl_label = "Poses as a Page"

    writes_files = True

    filepath: bpy.props.StringProperty(name="Page", subtype="FILE_PATH", options=PATH_OPTIONS | {"SKIP_SAVE"})
    filter_glob: bpy.props.StringProperty(default="*.html", options={"HIDDEN"})

    def prepare(self, context: bpy.types.Context) -> Calculation:
        page = require_path(self.filepath, "page").absolute()
        page = page if page.suffix.lower() in (".html", ".htm") else page.with_name(f"{page.name}.html")
        self.written = page
        return prepare_page(context.scene, page)

    def finish(self, _context: bpy.types.Context, _found: None) -> str:
        return say("Poses written to {page}", page=self.written)


def draw_comparison(layout: bpy.types.UILayout, compared: ComparedPoses) -> None:
    """A column for each pose, a line for each measure; where a value has a place, that stands below it, fainter."""
    column = layout.column(align=True)
    draw_line(column, "", compared.poses, ("ARMATURE_DATA",) * len(compared.poses))
    draw_line(
        column,
        say("State"),
        [tell(state) for state in compared.states],
        [STATE_ICONS[state] for state in compared.states],
    )
    column.separator()
    for line in compared.lines:
        marks = [BEST if i in line.best else WORST if i in line.worst else "BLANK1" for i in range(len(compared.poses))]
        draw_line(column, tell(line.head), [tell(cell) for cell in line.cells], marks)
        if any(line.places):
            below = column.column(align=True)
            below.active, below.scale_y = False, 0.75
            draw_line(below, "", [tell(place) for place in line.places], ("BLANK1",) * len(line.places))
    layout.separator()
    row = layout.row()
    row.active = False
    row.label(text="best of its row", icon=BEST)
    row.label(text="worst of its row", icon=WORST)


def draw_line(layout: bpy.types.UILayout, head: str, cells: Sequence[str], icons: Sequence[str]) -> None:
    """One line of the table."""
    split = layout.split(factor=HEAD_PX / (HEAD_PX + COLUMN_PX * len(cells)))
    split.label(text=head)
    row = split.grid_flow(row_major=True, columns=len(cells), even_columns=True, align=True)
    for text, icon in zip(cells, icons, strict=True):
        row.label(text=text, icon=icon)


register, unregister = bpy.utils.register_classes_factory(
    (COUNTERPOISE_OT_compare_poses, COUNTERPOISE_OT_write_poses_page)
)
