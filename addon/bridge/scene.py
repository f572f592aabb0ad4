"""Bringing a document into the scene: text block, collection, rig and proxies, whole or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import bpy
from mathutils import Matrix

from ..core_calcs.document.document import SkeletonDocument
from ..core_calcs.skeleton.element import Element
from ..core_calcs.skeleton.pose import Pose
from ..core_calcs.spatial.errors import SkeletonError
from ..core_calcs.studies.display import Surface
from ..core_calcs.studies.rigging import RigPlan, plan_rig
from ..properties.colours import colour_proxy, has_scan_colours, show_colours
from .frames import scene_scale
from .kept_document import keep_text, new_text, write_text
from .motions import write_pose
from .proxies import add_proxy, fit_proxies, hang_proxies, make_mesh
from .records import note_overrides
from .rig import ELEMENT, SCALE, build_rig, dress_rig
from .skeletons import add_collection, hold_skeleton, list_loose, list_proxies, mark_things, rest_active

MADE = ("texts", "collections", "objects", "armatures", "meshes", "materials")


def show_document(
    context: bpy.types.Context, document: SkeletonDocument, mesh_folder: Path, surfaces: dict[str, Surface]
) -> None:
    """Make everything the scene needs to pose a document's skeleton, its elements' surfaces given by name.

    An element without a surface is posed as the others are, but cannot be seen.

    The rig starts in the document's first pose, at neutral where there is none. What the scene held before stays, but
    is no longer its active skeleton.

    Raises
    ------
    CounterpoiseError : the rig cannot be made; the scene is then as it was
    """
    scene, skeleton = context.scene, document.skeleton
    with whole_or_nothing():
        text = new_text(document, mesh_folder)
        collection = add_collection(scene, skeleton.name, text)
        proxies = _add_proxies(scene, skeleton.elements, surfaces, collection)
        pose = document.poses[0] if document.poses else Pose("neutral")
        plan = plan_rig(skeleton)
        rig = _make_rig(context, document, plan, collection, pose)
        hang_proxies(rig, plan, skeleton.elements, proxies)
    rest_active(scene)
    _adopt(context, text, rig)
    take_in_hand(context, rig)
    mark_things(text, (rig, *proxies.values()))


def rebuild_rig(
    context: bpy.types.Context, document: SkeletonDocument, pose: Pose, missing: dict[str, Surface] | None = None
) -> None:
    """Make the scene's rig fit the document, in a pose; where it is gone it is made again.

    A rig stays the same object, and gets the scene's unit where that has changed. Whoever had it in pose mode has it so
    again, with the same bone active.

    missing : surfaces of the elements whose proxies are to be made again
    """
    scene, settings = context.scene, context.scene.counterpoise
    old, elements = settings.rig, document.skeleton.elements
    if old is not None:
        _require_own(old)
    proxies = find_proxies(scene, elements)
    posing = old is not None and old.mode == "POSE"
    active = old.data.bones.active if posing else None
    bone = active.get(ELEMENT) if active is not None else None
    with whole_or_nothing():
        collection = _home_of(scene, old, proxies, document.skeleton.name)
        again = [element for element in elements if element.name in (missing or {})]
        proxies |= _add_proxies(scene, again, missing or {}, collection)
        plan = plan_rig(document.skeleton)
        rig = _make_rig(context, document, plan, collection, pose, old.matrix_world if old else None)
    present = scene_scale(scene)
    fit_proxies(proxies.values(), float(old.data.get(SCALE, present)) if old else present, present)
    if old is not None:
        _take_over(old, rig, plan)
        rig = old
    hang_proxies(rig, plan, elements, proxies)
    _adopt(context, settings.document, rig)
    take_in_hand(context, rig, posing, bone)
    mark_things(settings.document, (rig, *proxies.values()))


def _require_own(rig: bpy.types.Object) -> None:
    """Raise SkeletonError where a rig's bones belong to another file, and cannot be made anew in this one."""
    if rig.library is not None or rig.override_library is not None:
        what = "it is linked or a library override: it can be posed, but its joints are those of its own file"
        raise SkeletonError(
            rig.name, what, "change them there, or make it local first (Object › Relations › Make Local)"
        )


def bring_back_rig(context: bpy.types.Context) -> None:
    """Link a rig that was deleted in the view to the scene again: Blender keeps what the scene still names."""
    scene = context.scene
    rig, text = scene.counterpoise.rig, scene.counterpoise.document
    if rig is None or rig.name in scene.objects:
        return
    homes = [proxy.users_collection[0] for proxy in list_proxies(scene) if proxy.users_collection]
    (homes[0] if homes else add_collection(scene, rig.name, text)).objects.link(rig)
    context.view_layer.update()


def exchange_document(
    context: bpy.types.Context, changed: SkeletonDocument, pose: Pose, surfaces: dict[str, Surface] | None = None
) -> None:
    """Write another document for the scene's skeleton and make the rig fit it in a pose; or leave both as they were.

    What was set by hand in it gets its record. Elements that have got each other's surface show each other's.

    surfaces : by name, of elements that are new or have a surface that no element had
    """
    text = context.scene.counterpoise.document
    before, content = keep_text(text).document, text.as_string()
    write_text(text, note_overrides(context.scene, before, changed))
    try:
        known = {proxy[ELEMENT] for proxy in list_proxies(context.scene)}
        shown = surfaces or {}
        rebuild_rig(context, changed, pose, {name: own for name, own in shown.items() if name not in known})
    except Exception:
        text.from_string(content)
        raise
    _show_exchanged(context.scene, before, changed)
    _show_new(context.scene, changed, {name: own for name, own in shown.items() if name in known})


def _show_exchanged(scene: bpy.types.Scene, before: SkeletonDocument, changed: SkeletonDocument) -> None:
    """Give the proxies of elements that have got each other's surface each other's mesh."""
    was = {element.name: element.source for element in before.skeleton.elements}
    new = [element for element in changed.skeleton.elements if was.get(element.name, element.source) != element.source]
    proxies = find_proxies(scene, tuple(new))
    meshes = {was[name]: proxy.data for name, proxy in proxies.items()}
    for element in new:
        mesh = meshes.get(element.source)
        if mesh is not None and element.name in proxies:
            proxies[element.name].data = mesh
            colour_proxy(proxies[element.name], scene.counterpoise.colours)


def _show_new(scene: bpy.types.Scene, changed: SkeletonDocument, surfaces: dict[str, Surface]) -> None:
    """Give proxies that are there other surfaces; what material they had they keep."""
    elements = tuple(element for element in changed.skeleton.elements if element.name in surfaces)
    proxies = find_proxies(scene, elements)
    for element in elements:
        surface, proxy = surfaces[element.name], proxies[element.name]
        old, proxy.data = proxy.data, make_mesh(element, surface, scene_scale(scene))
        for material in old.materials:
            proxy.data.materials.append(material)
        colour_proxy(proxy, scene.counterpoise.colours)
        if not old.users:
            bpy.data.meshes.remove(old)


def require_proxies(scene: bpy.types.Scene, names: Sequence[str]) -> None:
    """Raise SkeletonError where an element is not in the view."""
    known = {proxy[ELEMENT] for proxy in list_proxies(scene)}
    for name in names:
        if name not in known:
            raise SkeletonError(name, "it is not in the view", "build the rig again, which reads it from its file")


def find_proxies(scene: bpy.types.Scene, elements: tuple[Element, ...]) -> dict[str, bpy.types.Object]:
    """The active skeleton's proxies of these elements by name; where one hangs on the rig no more, itself."""
    names = {element.name for element in elements}
    found = (*list_loose(scene), *list_proxies(scene))
    return {proxy[ELEMENT]: proxy for proxy in found if proxy[ELEMENT] in names}


def _add_proxies(
    scene: bpy.types.Scene,
    elements: Sequence[Element],
    surfaces: dict[str, Surface],
    collection: bpy.types.Collection,
) -> dict[str, bpy.types.Object]:
    scale, colours = scene_scale(scene), scene.counterpoise.colours
    made = {}
    for element in elements:
        if (surface := surfaces.get(element.name)) is None:
            continue
        made[element.name] = add_proxy(element, surface, collection, scale, colours)
    return made


def _make_rig(
    context: bpy.types.Context,
    document: SkeletonDocument,
    plan: RigPlan,
    collection: bpy.types.Collection,
    pose: Pose,
    place: Matrix | None = None,
) -> bpy.types.Object:
    skeleton, scene = document.skeleton, context.scene
    rig = build_rig(plan, skeleton.name, collection, scene_scale(scene))
    if place is not None:
        rig.matrix_world = place
    context.view_layer.update()
    write_pose(rig, skeleton, plan, pose, scene)
    return rig


def _adopt(context: bpy.types.Context, text: bpy.types.Text, rig: bpy.types.Object) -> None:
    settings = context.scene.counterpoise
    hold_skeleton(settings, text, rig)
    fit_to_scene(context)


def fit_to_scene(context: bpy.types.Context) -> None:
    """Let the limits of a rig that came follow the scene's setting, and the views show its elements as they are."""
    settings = context.scene.counterpoise
    settings.hold_limits = bool(settings.hold_limits)  # set anew, so that the rig's limits follow it
    context.view_layer.update()
    if settings.colours == "SCAN" and any(map(has_scan_colours, list_proxies(context.scene))):
        show_colours(True)
    for area in context.screen.areas if context.screen else ():
        if area.type == "VIEW_3D":  # a dashed line from every element to its bone hides the elements
            area.spaces.active.overlay.show_relationship_lines = False


def take_in_hand(
    context: bpy.types.Context, rig: bpy.types.Object, posing: bool = False, element: str | None = None
) -> None:
    """Select the rig alone and make it active, so that Ctrl Tab leads to its bones; go on posing where that was so.

    element : whose bone is to be the active one
    """
    if context.object is not None and context.object.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for candidate in context.selected_objects:
        candidate.select_set(False)
    rig.select_set(True)
    context.view_layer.objects.active = rig
    if posing:
        bpy.ops.object.mode_set(mode="POSE")
        found = next((bone for bone in rig.data.bones if bone.get(ELEMENT) == element), None)
        if found is not None:
            rig.data.bones.active = found


def _home_of(
    scene: bpy.types.Scene, rig: bpy.types.Object | None, proxies: dict[str, bpy.types.Object], name: str
) -> bpy.types.Collection:
    for known in (rig, *proxies.values()):
        if known is not None and known.users_collection:
            return known.users_collection[0]
    return add_collection(scene, name, scene.counterpoise.document)


def _take_over(rig: bpy.types.Object, made: bpy.types.Object, plan: RigPlan) -> None:
    """The rig takes armature and pose of another that was made anew, which is removed.

    It stays the same object with all that the user has hung on it, its animation, constraints and modifiers: and undo
    has no object to lose.
    """
    armature = rig.data
    name, rig.data = armature.name, made.data
    dress_rig(rig, plan)
    for bone in made.pose.bones:
        own = rig.pose.bones[bone.name]
        for channel in ("location", "rotation_quaternion", "rotation_euler", "scale"):
            setattr(own, channel, getattr(bone, channel))
    bpy.data.objects.remove(made)
    if not armature.users:
        bpy.data.armatures.remove(armature)
    rig.data.name = name


@contextmanager
def whole_or_nothing() -> Iterator[None]:
    """Where it ends in an error, take out every datablock made within; active object and mode are as before."""
    active = bpy.context.view_layer.objects.active
    mode = active.mode if active else "OBJECT"
    before = {kind: set(getattr(bpy.data, kind)) for kind in MADE}
    try:
        yield
    except BaseException:
        if bpy.context.object and bpy.context.object.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        for kind in MADE:
            blocks = getattr(bpy.data, kind)
            for block in [block for block in blocks if block not in before[kind]]:
                blocks.remove(block)
        bpy.context.view_layer.objects.active = active
        if mode != "OBJECT":
            bpy.ops.object.mode_set(mode=mode)
        raise
