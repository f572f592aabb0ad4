"""Random steps with scene and files: rigs lost and built, skeletons chosen, things renamed, saved, reopened."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import bpy
from scenes import PACKAGE
from walk_model import Motion, assert_same, done, read_model, record

if TYPE_CHECKING:
    from random_steps import Walk

op = bpy.ops.counterpoise


def lose_rig(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None:
        return False
    own.rig = own.keyed = None
    bpy.data.objects.remove(walk.scene.rig)
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="Delete")
    return True


def build_rig(walk: Walk) -> bool:
    own = walk.model.own
    own.rig = own.rig or Motion()
    own.lost.clear()
    return done(op.build_rig)


def lose_proxy(walk: Walk) -> bool:
    """An element deleted in the view."""
    proxies = walk.scene.part("bridge.skeletons").list_proxies(bpy.context.scene)
    gone = next((thing for thing in proxies if thing["counterpoise_element"] == "V4"), None)
    if gone is None:
        return False
    walk.model.own.lost.add("V4")
    bpy.data.objects.remove(gone)
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="Delete")
    return True


def rename_things(walk: Walk) -> bool:
    """Rig, bones, collection, an element and the text block, as a user may."""
    number = int(walk.rng.integers(1000))
    text, rig = walk.scene.settings.document, walk.scene.rig
    walk.model.skeletons[f"text {number}"] = walk.model.skeletons.pop(text.name)
    text.name = walk.model.active = f"text {number}"
    assert text.name == walk.model.active
    if rig is not None:
        rig.name, rig.data.name = f"rig {number}", f"armature {number}"
        rig.data.bones[0].name = f"bone {number}"
        rig.users_collection[0].name = f"home {number}"
        rig.children[0].name = f"element {number}"
    bpy.ops.ed.undo_push(message="Rename")
    return True


def move_parent(walk: Walk) -> bool:
    """The rig hangs on an empty that is moved and turned; where the whole stands then is read back."""
    rig = walk.scene.rig
    if rig is None:
        return False
    if rig.parent is None:
        rig.parent = bpy.data.objects.new("mount", None)
        bpy.context.scene.collection.objects.link(rig.parent)
    rig.parent.location, rig.parent.rotation_euler = walk.rng.uniform(-1, 1, 3), walk.rng.uniform(-1, 1, 3)
    bpy.context.view_layer.update()
    bpy.ops.ed.undo_push(message="Move")
    walk.model.own.rig.X_WN = walk.scene.read_pose().X_WN
    return True


def change_frame(walk: Walk) -> bool:
    """A rig that is keyed follows; of one that rests it could not be read where it stands then."""
    own, others = walk.model.own, [one for one in walk.model.skeletons.values() if one is not walk.model.own]
    if any(one.keyed is not None for one in others):
        return False
    bpy.context.scene.frame_set(int(walk.rng.integers(1, 60)))
    if own.keyed is not None:
        pose = walk.scene.read_pose()
        own.rig.angles, own.rig.X_WN = dict(pose.angles_rad), pose.X_WN
    bpy.ops.ed.undo_push(message="Change Frame")
    return True


def open_second(walk: Walk) -> bool:
    if len(walk.model.skeletons) > 1:
        return False
    done(op.open_document, filepath=walk.pick([str(walk.document), *[str(walk.column)] * 2]))
    name = walk.scene.settings.document.name
    assert name not in walk.model.skeletons
    walk.model.skeletons[name], walk.model.active = read_model(walk.scene), name
    return True


def choose(walk: Walk) -> bool:
    name = walk.pick(list(walk.model.skeletons))
    walk.model.active = name
    return done(op.choose_skeleton, name=name)


def remove(walk: Walk) -> bool:
    if len(walk.model.skeletons) < 2:
        return False
    del walk.model.skeletons[walk.model.active]
    (walk.model.active,) = walk.model.skeletons
    return done(op.remove_skeleton)


def reopen(walk: Walk) -> bool:
    """Saved in one folder or the other and opened again: all is as before, but where the scans are counted from."""
    place = walk.folder / walk.pick(["one", "two/deeper"]) / "walk.blend"
    before, skeletons = _read_all(walk), record()
    bpy.ops.wm.save_as_mainfile(filepath=str(place))
    bpy.ops.wm.open_mainfile(filepath=str(place))
    assert _read_all(walk) == before
    assert_same({**record(), "texts": {}}, {**skeletons, "texts": {}})
    _find_scans(walk)
    walk.begin()
    return False


def save_copy(walk: Walk) -> bool:
    """A copy elsewhere, and the document as a file: both are what is there, and nothing here has changed."""
    before, document = record(), walk.scene.document
    bpy.ops.wm.save_as_mainfile(filepath=str(walk.folder / "copies" / "copy.blend"), copy=True)
    op.save_document(filepath=str(walk.folder / "copies" / "skeleton.json"))
    assert_same(record(), before)
    reading = walk.scene.part("core_calcs.document.reading")
    written = reading.read_document(walk.folder / "copies" / "skeleton.json")
    assert _write_placeless(walk, written) == _write_placeless(walk, document)
    return False


def switch_off_and_on(walk: Walk) -> bool:
    """The add-on disabled and enabled again in the open file."""
    before = record_plain()
    bpy.ops.preferences.addon_disable(module=PACKAGE)
    bpy.context.view_layer.update()
    assert record_plain() == before
    bpy.ops.preferences.addon_enable(module=PACKAGE)
    assert record_plain() == before
    walk.scene.part("bridge.figures").refresh_figures(bpy.context)
    return False


def record_plain() -> dict[str, Any]:
    """What is there without the add-on too."""
    return {
        "texts": {text.name: text.as_string() for text in bpy.data.texts},
        "objects": {thing.name: dict(thing.items()) for thing in bpy.data.objects},
    }


def _read_all(walk: Walk) -> dict[str, str]:
    """The documents of all skeletons, but for where their scans are."""
    reading = walk.scene.part("core_calcs.document.reading")
    texts = {name: bpy.data.texts[name].as_string() for name in walk.model.skeletons}
    return {name: _write_placeless(walk, reading.document_from_text(text, name)) for name, text in texts.items()}


def _write_placeless(walk: Walk, document: Any) -> str:
    text = walk.scene.part("core_calcs.document.reading").document_to_text(replace(document, mesh_folder="scans"))
    return str(text)


def _find_scans(walk: Walk) -> None:
    """Every mesh file of every skeleton is where its document says."""
    kept, meshes = walk.scene.part("bridge.kept_document"), walk.scene.part("core_calcs.document.meshes")
    for name in walk.model.skeletons:
        text = bpy.data.texts[name]
        document = kept.keep_text(text).document
        assert meshes.list_missing(document, meshes.locate_mesh_folder(document, kept.text_path(text))) == ()
