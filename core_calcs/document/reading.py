"""Reading and writing the skeleton document."""

from __future__ import annotations

import dataclasses
import json
import os
from pathlib import Path
from typing import Any, NoReturn

from ..site.consistency import check_site
from ..skeleton.kinematics import check_pose
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton, build_skeleton
from ..spatial.errors import DocumentError, OutputError, SiteError, SkeletonError
from .document import SCHEMA_VERSION, SkeletonDocument
from .layout import lay_out
from .migrations import migrate
from .structure import TreeError, structure_document, unstructure_document

SCHEMA_NAME = "counterpoise skeleton"
_MEND = "correct it there, or write the document again"


def read_document(path: Path) -> SkeletonDocument:
    """Read a skeleton document from a file; DocumentError where it cannot be, see `document_from_text`."""
    where = str(path)
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise DocumentError(where, "there is no such file", "check the path") from None
    except OSError as error:
        raise DocumentError(where, f"it cannot be read: {error.strerror or error}", "check the path") from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DocumentError(where, f"it is not UTF-8 text (byte {error.start})", "give a skeleton document") from error
    return document_from_text(text, where)


def write_document(path: Path, document: SkeletonDocument) -> None:
    """Write a skeleton document: beside the file first, then in its place, so that it is whole or not there at all.

    Raises
    ------
    DocumentError : the document would not read back; nothing is written
    OutputError : the file cannot be written
    """
    text = document_to_text(document)
    beside = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        try:
            with beside.open("w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            os.replace(beside, path)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        what = f"it cannot be written: {error.strerror or error}"
        raise OutputError(str(path), what, "check that the folder is there and may be written to") from error


def document_to_text(document: SkeletonDocument) -> str:
    """The document as indented JSON text; two equal documents give the same text.

    Raises
    ------
    DocumentError : the document would not read back: a number is not finite, a pose is named twice, ...
    """
    where = f"document of {document.skeleton.name!r}"
    tree = {"schema": SCHEMA_NAME, "version": SCHEMA_VERSION, **unstructure_document(document)}
    try:
        text = lay_out(tree)
    except ValueError:
        # Not finite: the strict reader names the place.
        _read_tree({key: tree[key] for key in tree if key not in ("schema", "version")}, where)
        raise
    again = document_from_text(text, where)
    if [e.name for e in again.skeleton.elements] != [e.name for e in document.skeleton.elements]:
        raise DocumentError(where, "its elements are not in tree order", "put them together with build_skeleton")
    return text


def document_from_text(text: str, where: str) -> SkeletonDocument:
    """Read a skeleton document from text.

    Parameters
    ----------
    where : what the user knows the text by (a file, a text block): named in every error

    Raises
    ------
    DocumentError : with the JSON path; the text is empty, cut off, no JSON, no skeleton document, of a newer version,
        or something in it is of the wrong type, unknown, missing, not finite, not rigid, or contradicts the rest
    """
    tree = _parse(text, where)
    if not isinstance(tree, dict) or tree.get("schema") != SCHEMA_NAME:
        raise DocumentError(where, "it is not a skeleton document", f'its first key is "schema": "{SCHEMA_NAME}"')
    version = tree.get("version")
    if not isinstance(version, int) or isinstance(version, bool):
        raise DocumentError(f"{where} at $.version", "a whole number is expected here", _MEND)
    body = {key: value for key, value in tree.items() if key not in ("schema", "version")}
    return _read_tree(migrate(body, version, where), where)


def _parse(text: str, where: str) -> Any:
    if not text.strip():
        raise DocumentError(where, "it is empty", "give a skeleton document")
    try:
        return json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=_refuse_twice)
    except json.JSONDecodeError as error:
        at = f"line {error.lineno}, column {error.colno}"
        cut = error.pos >= len(text.rstrip()) or error.msg.startswith("Unterminated")
        what = f"it is cut off at {at}" if cut else f"it is not JSON: {error.msg} at {at}"
        raise DocumentError(where, what, "give a whole skeleton document") from error
    except RecursionError as error:
        raise DocumentError(where, "it is nested too deeply", "give a skeleton document") from error
    except ValueError as error:
        raise DocumentError(where, str(error), _MEND) from error


def _refuse_constant(constant: str) -> NoReturn:
    raise ValueError(f"it holds {constant}, which is not a number")


def _refuse_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    tree = dict(pairs)
    if len(tree) != len(pairs):
        keys = [key for key, _ in pairs]
        raise ValueError(f"it holds the key {next(k for k in keys if keys.count(k) > 1)!r:.60} twice in one object")
    return tree


def _read_tree(body: Any, where: str) -> SkeletonDocument:
    try:
        document = structure_document(body)
    except TreeError as error:
        more = f" (and {error.others} more)" if error.others else ""
        raise DocumentError(f"{where} at {error.path}", f"{error.what}{more}", _MEND) from error
    if not document.skeleton.elements:
        raise DocumentError(f"{where} at $.skeleton.elements", "the skeleton has no element", _MEND)
    _check_sources(document.skeleton, where)
    document = dataclasses.replace(document, skeleton=_check_tree(document.skeleton, where))
    _check_poses(document, where)
    _check_build(document, where)
    try:
        check_site(document.site, document.skeleton)
    except SiteError as error:
        raise DocumentError(f"{where} at $.site, {error.where}", error.what, error.remedy) from error
    return document


def _check_tree(skeleton: Skeleton, where: str) -> Skeleton:
    try:
        return build_skeleton(skeleton.name, skeleton.elements, skeleton.joints, skeleton.feet, skeleton.left_out)
    except SkeletonError as error:
        raise DocumentError(f"{where} at $.skeleton, {error.where}", error.what, error.remedy) from error


def _check_sources(skeleton: Skeleton, where: str) -> None:
    hashes: dict[str, str] = {}
    for i, element in enumerate(skeleton.elements):
        source = element.source
        if hashes.setdefault(source.file, source.sha256) != source.sha256:
            at = f"{where} at $.skeleton.elements[{i}].source.sha256"
            raise DocumentError(at, f"another element gives {source.file} another SHA-256", "survey the meshes again")


def _check_poses(document: SkeletonDocument, where: str) -> None:
    names: set[str] = set()
    for i, pose in enumerate(document.poses):
        if pose.name in names:
            at = f"{where} at $.poses[{i}].name"
            raise DocumentError(at, f"an earlier pose is named {pose.name!r} too", "rename one of them")
        names.add(pose.name)
        try:
            check_pose(document.skeleton, pose)
        except SkeletonError as error:
            at = f"{where} at $.poses[{i}].{'mounted' if pose.mounted else 'angles_rad'}"
            raise DocumentError(at, error.what, error.remedy) from error
        _check_idle_feet(document.skeleton, pose, f"{where} at $.poses[{i}].idle_feet")


def _check_idle_feet(skeleton: Skeleton, pose: Pose, where: str) -> None:
    for k, foot in enumerate(pose.idle_feet):
        try:
            skeleton.foot_index(foot)
        except SkeletonError as error:
            raise DocumentError(f"{where}[{k}]", f"there is no foot {foot!r}", error.remedy) from error
        if foot in pose.idle_feet[:k]:
            raise DocumentError(f"{where}[{k}]", f"{foot!r} is named twice", "keep one of the two")


def _check_build(document: SkeletonDocument, where: str) -> None:
    """Castings, weighings, discs and steelwork name what is there, each once; bone has a material of its own."""
    build, elements = document.build, {element.name for element in document.skeleton.elements}
    known = {"element": elements, "start": elements, "end": elements}
    known["child"] = {joint.child for joint in document.skeleton.joints}
    named: dict[str, list[tuple[str, str]]] = {
        "series_castings": [("series", own.series) for own in build.series_castings],
        "element_castings": [("element", own.element) for own in build.element_castings],
        "weighings": [("element", own.element) for own in build.weighings],
        "discs": [("child", own.child) for own in build.discs],
        "steelwork": [("name", own.name) for own in build.steelwork],
    }
    ends = [(i, key, getattr(own, key)) for i, own in enumerate(build.steelwork) for key in ("start", "end")]
    for key, names in named.items():
        for i, (field, name) in enumerate(names):
            at = f"{where} at $.build.{key}[{i}].{field}"
            if field in known and name not in known[field]:
                raise DocumentError(at, f"there is no {'joint of' if field == 'child' else 'element'} {name!r}", _MEND)
            if (field, name) in names[:i]:
                raise DocumentError(at, f"{name!r} is named twice", "keep one of the two")
    for i, field, name in ends:
        if name not in elements:
            raise DocumentError(f"{where} at $.build.steelwork[{i}].{field}", f"there is no element {name!r}", _MEND)
    castings = [build.casting, *(own.casting for own in build.series_castings)]
    castings += [own.casting for own in build.element_castings]
    if any(casting.kind == "bone" and casting.material is None for casting in castings):
        raise DocumentError(f"{where} at $.build", "bone itself needs a material of its own", _MEND)
