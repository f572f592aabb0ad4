"""What is shown over the 3D view, all in one place; nothing is computed for what is off."""

from __future__ import annotations

import bpy

FACETS = [
    ("NONE", "Off", "No facets"),
    ("SELECTED", "Joint", "The facets of the joints of what is selected"),
    ("ALL", "All", "The facets of every joint"),
]


def redraw_views(_overlays: CounterpoiseOverlays, context: bpy.types.Context) -> None:
    """Ask every 3D view to be drawn again."""
    for window in context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


class CounterpoiseOverlays(bpy.types.PropertyGroup):
    """What is shown over the elements."""

    facets: bpy.props.EnumProperty(
        name="Facets",
        description="Draw the facets that joints rest on: blue the parent's, orange the child's",
        items=FACETS,
        default="SELECTED",
        update=redraw_views,
    )
    arcs: bpy.props.BoolProperty(
        name="Range Arcs",
        description="In pose mode, draw the range about each axis of the active bone's joint, and its present angle",
        default=True,
        update=redraw_views,
    )
    stops: bpy.props.BoolProperty(
        name="Stops",
        description="Where the joint of the active bone stands at a limit, show where it stops and why",
        default=True,
        update=redraw_views,
    )
    ranges: bpy.props.BoolProperty(
        name="Colour by Range",
        description="In pose mode, colour each bone by how far inside its bony range its joint stands; dashed outside",
        default=True,
        update=redraw_views,
    )
    support: bpy.props.BoolProperty(
        name="Centre and Support",
        description="Draw centre of mass, the point below it, support polygon and margin to its nearest edge",
        default=True,
        update=redraw_views,
    )
    reactions: bpy.props.BoolProperty(
        name="Foot Forces",
        description="Draw what each foot takes as an arrow to scale, lighter how far that may vary on a rigid base",
        default=True,
        update=redraw_views,
    )
    moments: bpy.props.BoolProperty(
        name="Joint Moments",
        description="Draw the moment at the joints of neck, trunk, tail and limbs, by colour and width",
        default=False,
        update=redraw_views,
    )
    rose: bpy.props.BoolProperty(
        name="Tip Angle Rose",
        description="Show in the corner of the view the tip angle in every direction",
        default=False,
        update=redraw_views,
    )
    ghosts: bpy.props.BoolProperty(
        name="Poses as Ghosts",
        description="Show the saved poses whose ghost is switched on in the list: see-through, each with its name",
        default=True,
        update=redraw_views,
    )
    mounted: bpy.props.BoolProperty(
        name="As Mounted Before",
        description="Show where elements stood before they were put right: see-through, with a dark rim",
        default=False,
        update=redraw_views,
    )
    hits: bpy.props.BoolProperty(
        name="Show in View",
        description="Mark where elements run into each other: a ring, with a cross in it where that fails",
        default=True,
        update=redraw_views,
    )


register, unregister = bpy.utils.register_classes_factory((CounterpoiseOverlays,))
