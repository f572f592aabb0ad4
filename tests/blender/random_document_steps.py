"""Random steps that change the document: joints, corrections, bones, site, actions, castings, contacts, places."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
import numpy as np
from mathutils import Matrix
from scenes import take_bone
from verdicts import keep_verdicts
from walk_model import Motion, Saved, Skeleton, done, read_parts

if TYPE_CHECKING:
    from random_steps import Walk

MOUNTED = "as mounted before"
TAIL = "tail"

op = bpy.ops.counterpoise


def set_joint(walk: Walk) -> bool:
    """Set anew with a reason, wide limits and a centre a little off; or fixed, which takes its angles away.

    Both are recorded, unless nothing has changed.
    """
    own = walk.model.own
    if own.rig is None or not own.is_animal:
        return False
    child, reason = walk.pick(["V3", "V7", "leg V2 left"]), f"reason {walk.rng.integers(1000)}"
    if walk.rng.random() < 0.3:
        if own.joints[child] != (False, reason):
            own.records.append(("joint fixed", child, reason))
        own.joints[child] = (False, reason)
        for motion in (own.rig, *(pose.motion for pose in own.poses)):
            motion.angles.pop(child, None)
        return done(op.set_joint, child=child, fixed=True, reason=reason)
    own.joints[child] = (True, reason)
    own.records.append(("joint set", child, reason))
    centre = np.array(walk.scene.document.skeleton.joint_of(child).X_WJ[:3, 3]) + walk.rng.uniform(-1e-3, 1e-3, 3)
    wide = (-0.6, 0.6)
    return done(op.set_joint, child=child, centre=centre, flexion=wide, lateral=wide, axial=wide, reason=reason)


def put_right(walk: Walk) -> bool:
    """An element turned end for end, or two exchanged; the first time how all stood becomes a pose."""
    own = walk.model.own
    if own.rig is None or not own.is_animal:
        return False
    fault, reason = walk.pick(["turned", "exchanged"]), f"reason {walk.rng.integers(1000)}"
    names = (walk.pick(["V3", "V7"]),) if fault == "turned" else ("V3", "V7")
    keep_verdicts(walk.scene, (fault, "wrong", names))
    keep_mounted(own)
    own.records.append((fault, *names, reason))
    own.corrections.append(names)
    exchange_files(own, names)
    return done(op.put_right, reason=reason)


def keep_mounted(own: Skeleton) -> None:
    """Before anything is put right how all stands becomes a pose, where none is kept yet."""
    if any(pose.mounted for pose in own.poses):
        return
    taken = [pose.name for pose in own.poses]
    name = next(n for k in range(1, 9) if (n := MOUNTED if k == 1 else f"{MOUNTED} {k}") not in taken)
    scanned = next((pose.motion for pose in own.poses if pose.name == "as scanned"), Motion({}, np.eye(4)))
    placed = Motion({}, scanned.X_WN, scanned.idle)  # it may have been saved over with feet let off
    own.poses.append(Saved(name, placed, "Where every element stood before the first correction.", True))


def put_back(walk: Walk) -> bool:
    own = walk.model.own
    if own.rig is None or not own.corrections:
        return False
    names, reason = own.corrections.pop(), f"reason {walk.rng.integers(1000)}"
    own.records.append(("put back", *names, reason))
    exchange_files(own, names)
    return done(op.put_back, reason=reason)


def exchange_files(own: Skeleton, names: tuple[str, ...]) -> None:
    files = [own.files[name] for name in names]
    own.files |= zip(names, reversed(files), strict=True)


def add_bone(walk: Walk) -> bool:
    """One vertebra more at the tail's end; how it hangs on is the core's own."""
    own = walk.model.own
    if own.rig is None or not own.is_animal or "V10" in own.files:
        return False
    reason = f"reason {walk.rng.integers(1000)}"
    done(op.add_bone, name="V10", way="scaled", source="V9", reason=reason)
    skeleton, record = walk.scene.document.skeleton, walk.scene.document.records[-1]
    joint = skeleton.joint_of("V10")
    own.joints["V10"] = (joint.moves, joint.reason)
    own.files["V10"] = skeleton.elements[skeleton.index("V10")].source.file
    own.records.append((record.action, *record.elements, reason))
    own.searched = read_parts(walk.scene.document)["searched"]
    return True


def _note_record(walk: Walk) -> None:
    """The document has one record more than the model: take it over."""
    records = walk.scene.document.records
    assert len(records) == len(walk.model.own.records) + 1
    walk.model.own.records.append((records[-1].action, *records[-1].elements, records[-1].why))


def set_site(walk: Walk) -> bool:
    site = walk.model.own.site
    site["ground"], site["friction"] = int(walk.rng.integers(-3, 3)) / 8, int(walk.rng.integers(1, 9)) / 10
    return done(op.set_site, ground=site["ground"], friction=site["friction"])


def set_wind(walk: Walk) -> bool:
    site, acts = walk.model.own.site, bool(walk.rng.integers(2))
    site["pressure"] = float(walk.rng.integers(100, 900)) if acts else None
    return done(op.set_wind, acts=acts, **({"pressure": site["pressure"]} if acts else {}))


def set_factors(walk: Walk) -> bool:
    """Recorded where it changes anything."""
    site, factor = walk.model.own.site, int(walk.rng.integers(10, 20)) / 10
    changes = site["variable"] != factor
    site["variable"] = factor
    done(op.set_factors, variable_against=factor)
    if changes:
        _note_record(walk)
    return True


def allow_clearance(walk: Walk) -> bool:
    percent = float(walk.rng.integers(1, 9))
    walk.model.own.site["clearance"] = round(percent / 100, 6)
    return done(op.allow_clearance, percent=percent)


def set_footing(walk: Walk) -> bool:
    own = walk.model.own
    if not own.feet:
        return False
    foot = walk.pick(own.feet)
    if foot in own.footings and walk.rng.integers(2):
        del own.footings[foot]
        return done(op.remove_footing, foot=foot)
    height, anchored = int(walk.rng.integers(-4, 5)) / 64, bool(walk.rng.integers(2))
    own.footings[foot] = (height, anchored)
    return done(op.set_footing, foot=foot, height=height, anchored=anchored)


def act(walk: Walk) -> bool:
    """A push or a person at the 3-D cursor on an element; or one of those that are there is taken out."""
    own = walk.model.own
    if own.actions and (len(own.actions) > 2 or walk.rng.integers(2)):
        name = walk.pick(list(own.actions))
        del own.actions[name]
        return done(op.remove_action, name=name)
    name, kind, element = f"action {walk.rng.integers(1000)}", walk.pick(["push", "person"]), walk.pick(["V2", "V6"])
    if own.rig is None or name in own.actions or not own.is_animal:
        return False
    op.select_element(element=element)
    bpy.context.scene.cursor.location = bpy.context.object.matrix_world.translation
    own.actions[name] = (kind, element)
    return done(op.add_action, kind=kind, name=name, force=0.5)


def cast(walk: Walk) -> bool:
    """A series or an element hollow or solid, or as the rest again."""
    own = walk.model.own
    if not own.is_animal:
        return False
    level, name = ("SERIES", "limb") if walk.rng.integers(2) else ("ELEMENT", walk.pick(["leg V2 left", "V2"]))
    kind = walk.pick(["HOLLOW", "SOLID", "AS_REST"])
    if kind == "AS_REST":
        own.castings.pop((level, name), None)
        return done(op.cast, level=level, name=name, kind=kind)
    own.castings[level, name] = ("hollow", 0.004) if kind == "HOLLOW" else ("solid", 0.0)
    return done(op.cast, level=level, name=name, kind=kind, **({"wall": 0.004} if kind == "HOLLOW" else {}))


def weigh(walk: Walk) -> bool:
    own, name = walk.model.own, walk.pick(["leg V8 right", "V6"] if walk.model.own.is_animal else ["L1", "L3"])
    if own.weighings.pop(name, None) is not None and walk.rng.integers(2):
        return done(op.forget_weighing, name=name)
    own.weighings[name] = float(walk.rng.integers(1, 40)) / 8
    return done(op.weigh, name=name, mass=own.weighings[name], uncertainty=0.125)


def lay_steel(walk: Walk) -> bool:
    own, name = walk.model.own, walk.pick(["spine", "second"])
    if not own.is_animal:
        return False
    if name in own.steelwork and walk.rng.integers(2):
        del own.steelwork[name]
        return done(op.remove_steelwork, name=name)
    own.steelwork[name] = ("V2", walk.pick(["V4", "V8"]))
    sections = op.lay_steelwork.get_rna_type().properties["section"].enum_items.keys()
    start, end = own.steelwork[name]
    return done(op.lay_steelwork, name=name, start=start, end=end, section=walk.pick(sections))


def touch(walk: Walk) -> bool:
    """The tail may touch the ground; or no longer, which takes its footing out, and no pose speaks of it."""
    own = walk.model.own
    if TAIL in own.feet:
        own.feet.remove(TAIL)
        own.footings.pop(TAIL, None)
        for motion in filter(None, (own.rig, own.keyed, *(pose.motion for pose in own.poses))):
            motion.idle = tuple(name for name in motion.idle if name != TAIL)
        return done(op.remove_contact, name=TAIL)
    if own.rig is None or not own.is_animal or not own.joints["V9"][0]:
        return False
    take_bone(walk.scene, "V9")
    own.feet.append(TAIL)
    done(op.add_contact, name=TAIL)
    bpy.ops.object.mode_set(mode="OBJECT")
    return True


def place(walk: Walk) -> bool:
    """An element that no joint holds, a little elsewhere; or back where it was scanned."""
    own, reason = walk.model.own, f"reason {walk.rng.integers(1000)}"
    if own.rig is None or not own.is_animal or own.joints["V1"][0]:
        return False
    if own.placed.pop("V1", None) is not None and walk.rng.integers(2):
        done(op.restore_place, element="V1")
    else:
        op.take_element(element="V1")
        shift = Matrix.Translation(walk.rng.uniform(-0.01, 0.01, 3))
        bpy.context.object.matrix_world = shift @ bpy.context.object.matrix_world
        bpy.context.view_layer.update()
        done(op.place_element, reason=reason)
        own.placed["V1"] = reason
    _note_record(walk)
    return True
