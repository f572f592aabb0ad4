"""Skeletons of a scene that are not the active one."""

from __future__ import annotations

import bpy


class CounterpoiseRestingSkeleton(bpy.types.PropertyGroup):
    """A skeleton that waits: the scene's own `document` and `rig` are those of the active one."""

    document: bpy.props.PointerProperty(
        type=bpy.types.Text, name="Document", description="Text block that holds the skeleton document"
    )
    mark: bpy.props.StringProperty(description="What the document and all that was made for it are marked with")
    rig: bpy.props.PointerProperty(type=bpy.types.Object, name="Rig", description="Armature that holds the pose")


register, unregister = bpy.utils.register_classes_factory((CounterpoiseRestingSkeleton,))
