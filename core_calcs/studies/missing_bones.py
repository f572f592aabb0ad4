"""Missing bones: made of another that is there, and marked as such for ever."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ..articulation.mirror_plane import find_mirror_plane
from ..document.document import SkeletonDocument
from ..document.meshes import require_files
from ..document.record import Record
from ..mesh.made_files import together
from ..mesh.transformed import transform_surface
from ..skeleton.discs import take_discs_out
from ..skeleton.element import Element
from ..spatial.progress import Progress, ignore_progress
from ..spatial.transforms import invert
from .castings import add_void
from .corrections import exchange_elements
from .joint_cache import JointCache
from .mirrored_bones import mirror_bone, reflect_in_place
from .new_bones import BoneOrder, insert_bone, make_file, read_placed, require_order, tell_chain, tell_source
from .scaled_bones import scale_bone


def make_bone(
    document: SkeletonDocument,
    mesh_folder: Path,
    order: BoneOrder,
    progress: Progress = ignore_progress,
    cache: JointCache | None = None,
) -> SkeletonDocument:
    """The document with a bone more, made of another: mirrored from the other side, or scaled from its row.

    Its surface is written into the folder `made` of the mesh folder, in the source's unit, and stays there only where
    nothing fails. Wrap this and the writing of the document into `made_files.together`, so that no file is left where
    the document cannot be written. Where the order names the source itself, its scan is a mirror image: it is mirrored
    in its place.

    Raises
    ------
    SkeletonError : no reason, a name that is taken or none, no such source or parent, one without volume; no partner's
        side, no number in the row, no room
    DocumentError, MeshFileError : files of what it is made of and joined to are missing, or others than recorded
    OutputError : its file cannot be written
    """
    scanned = replace(document, skeleton=take_discs_out(document.skeleton))
    source = require_order(scanned.skeleton, order)
    with together(mesh_folder):
        if order.name == order.source:
            return _mirror_in_place(scanned, mesh_folder, order, source, progress, cache)
        make = mirror_bone if order.way == "mirrored" else scale_bone
        return insert_bone(scanned, mesh_folder, order, make(scanned, mesh_folder, order, progress), progress, cache)


def _mirror_in_place(
    scanned: SkeletonDocument,
    mesh_folder: Path,
    order: BoneOrder,
    source: Element,
    progress: Progress,
    cache: JointCache | None,
) -> SkeletonDocument:
    """The element with its surface mirrored; joints and feet that rest on it are found anew."""
    require_files([source], mesh_folder)
    plane = find_mirror_plane(scanned.skeleton.elements)
    placed = read_placed(source, mesh_folder)
    X, off = reflect_in_place(source, plane, placed)
    surface = transform_surface(transform_surface(placed, invert(source.X_WE)), X)
    _, element = make_file(mesh_folder, order, source, surface)
    element = add_void(
        element, transform_surface(read_placed(element, mesh_folder), invert(element.X_WE)), scanned.build
    )
    changed = exchange_elements(scanned, mesh_folder, {source.name: element}, progress, cache)
    told = f"laid upon itself it lies {1000 * off:.3g} mm off (rms); {plane.describe()}"
    evidence = "; ".join(filter(None, (told, tell_source(source), tell_chain(scanned.skeleton, source))))
    what = f"{source.name}: its surface is a mirror image, and was mirrored in its place"
    words = (what, order.why.strip(), evidence, order.by.strip(), order.when)
    return replace(changed, records=(*changed.records, Record("correction", "mirrored", (source.name,), *words)))
