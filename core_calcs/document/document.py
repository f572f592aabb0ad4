"""The skeleton document as a value."""

from __future__ import annotations

from dataclasses import dataclass

from ..build.build import Build
from ..site.site import Site
from ..skeleton.pose import Pose
from ..skeleton.tree import Skeleton
from .record import Record

SCHEMA_VERSION = 20


@dataclass(frozen=True, eq=False)
class SkeletonDocument:
    """Everything that is kept: what the add-on writes the command line reads, and back.

    mesh_folder : the folder that the elements' files are relative to, itself relative to the document; forward slashes
    poses : in the user's order; names are unique
    records : of corrections and overrides, the oldest first: none is ever taken out
    """

    skeleton: Skeleton
    poses: tuple[Pose, ...]
    build: Build
    site: Site
    mesh_folder: str
    records: tuple[Record, ...] = ()
