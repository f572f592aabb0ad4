"""The scene's settings."""

from __future__ import annotations

import bpy

from .castings import CounterpoiseCastingRow
from .colours import SERIES, colour_proxy, has_scan_colours, show_colours
from .elements import CounterpoiseElement, CounterpoiseProblem
from .overlays import CounterpoiseOverlays
from .paths import PATH_OPTIONS
from .poses import CounterpoisePoseList, CounterpoisePoseRow
from .records import CounterpoiseRecordRow
from .skeletons import CounterpoiseRestingSkeleton

LIMITS = "Joint limits"
"""Name of the limit constraints on the rig's bones."""

UNITS = [
    ("mm", "Millimetre", "One unit of the files is a millimetre"),
    ("cm", "Centimetre", "One unit of the files is a centimetre"),
    ("m", "Metre", "One unit of the files is a metre"),
    ("in", "Inch", "One unit of the files is an inch (25.4 mm)"),
    ("ft", "Foot", "One unit of the files is a foot (304.8 mm)"),
]


def apply_hold(settings: CounterpoiseSettings, _context: bpy.types.Context) -> None:
    """Let the limits stop the bones, or only be shown: on every rig of the scene."""
    for rig in (settings.rig, *(resting.rig for resting in settings.resting)):
        for bone in rig.pose.bones if rig is not None and rig.pose is not None else ():
            limit = bone.constraints.get(LIMITS)
            if limit is not None:
                limit.mute = not settings.hold_limits


COLOURS = [
    ("SCAN", "As Scanned", "The colours of the scans; by its series an element whose scan has none"),
    ("SERIES", "By Series", "Tinted by series"),
    ("BONE", "Like Bone", "All in the colour of bone"),
]


def apply_colours(settings: CounterpoiseSettings, _context: bpy.types.Context) -> None:
    """Colour the scene's proxies as scanned, by series, or like bone."""
    proxies = [own for own in settings.id_data.objects if SERIES in own and own.type == "MESH"]
    for proxy in proxies:
        colour_proxy(proxy, settings.colours)
    if any(map(has_scan_colours, proxies)):
        show_colours(settings.colours == "SCAN")


def go_to_problem(settings: CounterpoiseSettings, _context: bpy.types.Context) -> None:
    """Show the element that a problem concerns, in the list and in the view."""
    if 0 <= settings.problem_index < len(settings.problems):
        element = settings.problems[settings.problem_index].element
        if element and bpy.ops.counterpoise.select_element.poll():
            bpy.ops.counterpoise.select_element(element=element)


class CounterpoiseSettings(bpy.types.PropertyGroup):
    """One scene's skeletons: document and rig are those of the active one."""

    mesh_folder: bpy.props.StringProperty(
        name="Scans",
        description="Folder of the mesh files, one or several elements a file",
        subtype="DIR_PATH",
        options=PATH_OPTIONS,
    )
    table_path: bpy.props.StringProperty(
        name="Table",
        description="Element table (CSV): what every file or body is, and what it hangs on",
        subtype="FILE_PATH",
        options=PATH_OPTIONS,
    )
    unit: bpy.props.EnumProperty(
        name="Unit", description="Unit of the co-ordinates in the mesh files", items=UNITS, default="mm"
    )
    expected: bpy.props.StringProperty(
        name="Expected",
        description="How many elements there should be, by name (no number, no side) or series: caudal=44, rib=24",
    )
    skeleton_name: bpy.props.StringProperty(
        name="Name", description="Name of the skeleton to build; empty: that of the folder"
    )
    loose_scans: bpy.props.BoolProperty(
        name="Loose Scans",
        description="The column's elements stand anywhere, each as its scanner had it: they wait to be assembled",
        default=False,
    )
    elements: bpy.props.CollectionProperty(type=CounterpoiseElement)
    element_index: bpy.props.IntProperty(name="Element", description="The element shown below the list")
    problems: bpy.props.CollectionProperty(type=CounterpoiseProblem)
    problem_index: bpy.props.IntProperty(
        name="Problem", description="The problem whose element is shown", default=-1, update=go_to_problem
    )
    problems_only: bpy.props.BoolProperty(
        name="Problems Only", description="List only the elements with something to look at", default=False
    )
    unnamed_files: bpy.props.StringProperty(description="Mesh files that no row names, one a line, as last surveyed")
    table_read: bpy.props.StringProperty(description="The file that the list was read from")
    table_digest: bpy.props.StringProperty(description="SHA-256 of that file as it was read or written last")
    table_edited: bpy.props.BoolProperty(description="The list has edits that the file has not")
    document: bpy.props.PointerProperty(
        type=bpy.types.Text, name="Document", description="Text block that holds the skeleton document"
    )
    mark: bpy.props.StringProperty(description="What the document and all that was made for it are marked with")
    rig: bpy.props.PointerProperty(
        type=bpy.types.Object,
        name="Rig",
        description="Armature that holds the pose",
        poll=lambda _self, candidate: candidate.type == "ARMATURE",
    )
    resting: bpy.props.CollectionProperty(
        type=CounterpoiseRestingSkeleton, name="Resting", description="The scene's other skeletons"
    )
    hold_limits: bpy.props.BoolProperty(
        name="Hold at Limits",
        description="Stop the bones at their joints' limits; otherwise the figures tell which are beyond",
        default=True,
        update=apply_hold,
    )
    colours: bpy.props.EnumProperty(
        name="Colours",
        description="What colours the elements have in the view",
        items=COLOURS,
        default="SCAN",
        update=apply_colours,
    )
    overlays: bpy.props.PointerProperty(type=CounterpoiseOverlays, name="Overlays")
    poses: bpy.props.CollectionProperty(type=CounterpoisePoseRow, name="Saved Poses")
    pose_list: bpy.props.PointerProperty(type=CounterpoisePoseList, name="List of Poses")
    pose_index: bpy.props.IntProperty(name="Selected Pose", description="Row selected in the list of poses")
    pose_name: bpy.props.StringProperty(name="Name", description="Name of the pose to save")
    castings: bpy.props.CollectionProperty(type=CounterpoiseCastingRow, name="Castings")
    casting_index: bpy.props.IntProperty(name="Selected Casting", description="Row selected in the list of castings")
    casting_elements: bpy.props.BoolProperty(
        name="Single Elements", description="List the elements below their series", default=False
    )
    recorded_by: bpy.props.StringProperty(
        name="Recorded By",
        description="Who you are: it stands in the record of everything put right or set by hand from now on",
    )
    records: bpy.props.CollectionProperty(type=CounterpoiseRecordRow, name="Records")
    record_index: bpy.props.IntProperty(name="Selected Record", description="Row selected in the list of records")
    handover_folder: bpy.props.StringProperty(
        name="Hand-over",
        description="Folder to write: a new one, or that of an earlier hand-over",
        subtype="DIR_PATH",
        options=PATH_OPTIONS,
    )


def register() -> None:
    bpy.utils.register_class(CounterpoiseSettings)
    bpy.types.Scene.counterpoise = bpy.props.PointerProperty(type=CounterpoiseSettings)


def unregister() -> None:
    del bpy.types.Scene.counterpoise
    bpy.utils.unregister_class(CounterpoiseSettings)
