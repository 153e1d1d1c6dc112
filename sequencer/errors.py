"""The one tree of errors. A face prints their text; nobody else prints.

::

    PassalongError            anything the program says no to
    ├── UsageError            the request itself cannot be understood        (exit code 2)
    └── WorkError             understood, but it could not be done           (exit code 1)
        ├── PhotoError        one photograph cannot be used
        ├── NothingReadError  no photograph at all could be used
        ├── PieceError        the piece folder is missing, damaged or from a newer version
        │   ├── PieceInUseError    another program writes to it just now
        │   ├── NoCornersError     nothing with four sides lies where she points
        │   └── PieceChangedError  it is no longer what was read; nothing was overwritten
        ├── SequenceError     no sequence can be found as asked
        │   └── ImpossibleWishes   the wishes contradict each other; the smallest set is named
        ├── PlanError         the panel cannot be cut and sewn as asked
        └── SheetError        the picture or the sheets cannot be written

A message says what was found, where, and what to do about it.
"""

from __future__ import annotations

from collections.abc import Sequence


class PassalongError(Exception):
    """Root of every error this program raises on purpose."""

    exit_code = 1


class UsageError(PassalongError):
    """The request cannot be understood: a malformed length, an option that makes no sense."""

    exit_code = 2


class WorkError(PassalongError):
    """The request was understood and cannot be carried out."""


class PhotoError(WorkError):
    """One photograph cannot be used; ``photo`` is its file name, ``why`` one clear line."""

    def __init__(self, photo: str, why: str) -> None:
        super().__init__(f"{photo}: {why}")
        self.photo = photo
        self.why = why


class NothingReadError(WorkError):
    """Not one photograph could be used; ``rejected`` holds (photo, why) for each."""

    def __init__(self, message: str, rejected: Sequence[tuple[str, str]] = ()) -> None:
        super().__init__(message)
        self.rejected = tuple(rejected)


class PieceError(WorkError):
    """The piece folder cannot be read or written."""


class PieceInUseError(PieceError):
    """Another program holds the piece folder and did not let go in time."""


class PieceChangedError(PieceError):
    """The piece was changed since it was read; what was to be saved would have undone that."""


class NoCornersError(PieceError):
    """Nothing with four straight sides is seen where she points; corners can be laid by hand."""


class SequenceError(WorkError):
    """No sequence can be found for what was asked."""


class ImpossibleWishes(SequenceError):  # noqa: N818 - reads as what it is
    """Wishes that contradict each other; ``wishes`` is the smallest such set, in words."""

    def __init__(self, message: str, wishes: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.wishes = tuple(wishes)


class PlanError(WorkError):
    """The panel cannot be planned as asked."""


class SheetError(WorkError):
    """A picture or a sheet could not be written."""
