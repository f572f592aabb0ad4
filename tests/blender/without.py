"""A Blender that never had the add-on opens a .blend, looks, purges what nobody uses, and saves it.

python without.py BLEND, with BLENDER_USER_RESOURCES a fresh folder. Prints as JSON what it saw there; whatever else is
on the console comes from Blender.
"""

from __future__ import annotations

import json
import sys

import bpy


def main(path: str) -> None:
    bpy.ops.wm.open_mainfile(filepath=path)
    scene = bpy.context.scene
    seen = {
        "property": hasattr(scene, "counterpoise"),
        "texts": sorted(text.name for text in bpy.data.texts),
        "objects": len(scene.objects),
        "handlers": [f.__module__ for f in bpy.app.handlers.depsgraph_update_post if "counterpoise" in f.__module__],
    }
    bpy.context.view_layer.update()
    bpy.ops.outliner.orphans_purge(do_local_ids=True, do_linked_ids=True, do_recursive=True)
    bpy.ops.wm.save_mainfile()
    print("SEEN " + json.dumps(seen))


if __name__ == "__main__":
    main(sys.argv[1])
