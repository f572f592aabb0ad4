"""The tree of errors that a user may meet: each says where, what is wrong, and what to do."""

from __future__ import annotations


class CounterpoiseError(Exception):
    """Something the user can mend.

    Parameters
    ----------
    where : file, element, joint or field concerned, as the user knows it
    what : what is wrong with it, without a full stop
    remedy : what to do about it, without a full stop
    """

    exit_code = 1

    def __init__(self, where: str, what: str, remedy: str) -> None:
        self.where, self.what, self.remedy = where, what, remedy
        super().__init__(f"{where}: {what}. {remedy[:1].upper()}{remedy[1:]}.")


class MeshFileError(CounterpoiseError):
    """A mesh file that cannot be read, or holds nothing that can be used."""

    exit_code = 3


class TableError(CounterpoiseError):
    """An element table that cannot be read or contradicts the files or itself.

    row : which row of the file, the header being row 1; None where it is about the whole
    """

    exit_code = 4
    row: int | None = None


class DocumentError(CounterpoiseError):
    """A skeleton document that cannot be read, or does not fit its schema or its mesh files."""

    exit_code = 5


class SkeletonError(CounterpoiseError):
    """A tree, joint or pose that contradicts itself."""

    exit_code = 6


class SiteError(SkeletonError):
    """Something said of the site, or of what acts there, that cannot be or is about what is not there."""


class OutputError(CounterpoiseError):
    """A result that cannot be written where it was asked for."""

    exit_code = 7


class Cancelled(Exception):
    """Raised by a progress callback to stop long work; nothing has been written."""
