"""Random steps with a column that is jointed by its facets: searched again, discs, facets marked, put together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
from random_document_steps import keep_mounted
from walk_model import done, refused

if TYPE_CHECKING:
    from random_steps import Walk

DISCS_M, GAPS_M = (0.006, 0.015), (0.004, 0.008)
"""Few of each: what was searched for once is kept, and a walk is to take steps and not to search."""

op = bpy.ops.counterpoise


def search_joint(walk: Walk) -> bool:
    """With other settings; or from nothing, which drops marked facets as well."""
    own = walk.model.own
    if own.rig is None or own.is_animal:
        return False
    child = walk.pick(["L2", "L3"])
    if own.marks.get(child):
        own.marks[child] = ()
        done(op.search_joint, child=child, from_nothing=True)
    else:
        contact = int(walk.rng.integers(3))
        own.searched[child] = (contact / 100, own.searched[child][1])
        done(op.search_joint, child=child, contact=contact)
    return _take_records(walk)


def set_discs(walk: Walk) -> bool:
    """Of one joint or of all; or as thick as they were scanned."""
    own, unit_m = walk.model.own, bpy.context.scene.unit_settings.scale_length
    if own.rig is None or own.is_animal:
        return False
    if own.discs and walk.rng.integers(3) == 0:
        child = walk.pick(list(own.discs))
        del own.discs[child]
        done(op.disc_thickness, child=child, as_scanned=True)
        return _take_records(walk)
    thickness, reason = float(walk.rng.choice(DISCS_M)), f"reason {walk.rng.integers(1000)}"
    scope, child = walk.pick(["JOINT", "COLUMN"]), walk.pick(["L2", "L3"])
    own.discs |= dict.fromkeys((child,) if scope == "JOINT" else ("L2", "L3"), (thickness, reason))
    done(op.disc_thickness, child=child, scope=scope, thickness=thickness / unit_m, reason=reason)
    return _take_records(walk)


def mark_facet(walk: Walk) -> bool:
    """The whole end plate of a vertebra, selected in Edit Mode, tells the joint."""
    own = walk.model.own
    if own.rig is None or own.is_animal:
        return False
    child = walk.pick(["L2", "L3"])
    op.select_element(element=child)
    proxy = bpy.context.active_object
    mesh = proxy.data
    bpy.context.tool_settings.mesh_select_mode = (False, False, True)
    for things in (mesh.vertices, mesh.edges, mesh.polygons):
        things.foreach_set("select", [False] * len(things))
    end = max(polygon.center.x for polygon in mesh.polygons) - 1e-5
    for polygon in mesh.polygons:
        polygon.select = polygon.center.x > end
    bpy.ops.object.mode_set(mode="EDIT")
    own.marks[child] = ((child, "centrum"),)
    done(op.mark_facet, child=child)
    return _take_records(walk)


def assemble(walk: Walk) -> bool:
    """Put together anew at the gaps asked for; a disc set wins. The first time how all stood becomes a pose."""
    own, unit_m = walk.model.own, bpy.context.scene.unit_settings.scale_length
    if own.rig is None or own.is_animal:
        return False
    given = {"gap": float(walk.rng.choice(GAPS_M)) / unit_m, "reason": f"reason {walk.rng.integers(1000)}"}
    if any(own.marks.values()):  # on one of two elements alone
        return refused(op.assemble, "Mark it on", gaps="LENGTH", **given)
    keep_mounted(own)
    done(op.assemble, gaps="LENGTH", **given)
    assert walk.scene.document.records[-1].why == given["reason"]
    return _take_records(walk)


def _take_records(walk: Walk) -> bool:
    """What was recorded by the step is new, and about the joints of the column; the joints turn as before."""
    own, document = walk.model.own, walk.scene.document
    for record in document.records[len(own.records) :]:
        assert set(record.elements) <= {"L2", "L3"}
        own.records.append((record.action, *record.elements, record.why))
    found = {joint.child: joint for joint in document.skeleton.joints}
    for child in ("L2", "L3"):
        assert found[child].moves
        own.joints[child] = (True, found[child].reason)
    return True
