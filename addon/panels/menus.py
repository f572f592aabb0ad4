"""Where Blender's users look for files: skeleton documents under File, Import and Export."""

from __future__ import annotations

import bpy

LABEL = "Skeleton Document (.json)"


def draw_import(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    """Under File, Import."""
    menu.layout.operator("counterpoise.open_document", text=LABEL)


def draw_export(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    """Under File, Export."""
    menu.layout.operator("counterpoise.save_document", text=LABEL)


def register() -> None:
    bpy.types.TOPBAR_MT_file_import.append(draw_import)
    bpy.types.TOPBAR_MT_file_export.append(draw_export)


def unregister() -> None:
    bpy.types.TOPBAR_MT_file_export.remove(draw_export)
    bpy.types.TOPBAR_MT_file_import.remove(draw_import)
