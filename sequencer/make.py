"""The road: the whole job, one step a line. Only this module knows the order of the steps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sequencer.models import ContrastReport, Json, Plan, Progress, Sequence
from sequencer.ordering.sequence import contrast, order
from sequencer.piece import Growing, Piece, worked
from sequencer.planning import plan_columns, ways_out, wished
from sequencer.summary import Summary, summary
from sequencer.written import write_preview, write_sequence_picture, write_sheets

if TYPE_CHECKING:
    from sequencer.planning import WayOut


@dataclass(frozen=True)
class Made:
    """What ``make`` leaves behind: the piece, its plan and contrast, and the files by name.

    ``ways``: ways out, where cloth is short.
    """

    piece: Piece
    sequence: Sequence
    contrast: ContrastReport
    plan: Plan
    files: Mapping[str, Path]
    ways: tuple[WayOut, ...] = ()

    @property
    def summary(self) -> Summary:
        """What the piece is and what to do first, in a few lines."""
        return summary(self.piece, self.plan, self.contrast, self.files["piece"].parent, self.ways)

    def to_json(self) -> Json:
        """Document ``passalong.make/1``."""
        return {
            "schema": "passalong.make/1",
            "summary": self.summary.to_json(),
            "prints": [one.to_json() for one in self.piece.prints],
            "rejected": [one.to_json() for one in self.piece.rejected],
            "sequence": self.sequence.to_json(),
            "contrast": self.contrast.to_json(),
            "plan": self.plan.to_json(),
            "files": {name: str(path) for name, path in self.files.items()},
        }


def make(
    photos: list[Path],
    folder: Path,
    read_wishes: Mapping[str, Any],
    order_wishes: Mapping[str, Any],
    plan_wishes: Mapping[str, Any],
    paper: str = "letter",
    title: str | None = None,
    date: str | None = None,
    progress: Progress | None = None,
    copy: bool = True,
) -> Made:
    """The whole job: photographs in; prints, sequence, plan, pictures and sheets out.

    It is one step that can be taken back. ``copy``: the photographs are kept in the folder.
    """
    from sequencer.intake import read_into  # opens what reads photographs: a third of a second

    say = progress or (lambda done, total, what: None)
    step = Growing("make")
    read_into(folder, photos, read_wishes, say, copy=copy, step=step)

    def work(piece: Piece) -> tuple[Piece, tuple[Sequence, ContrastReport, Plan]]:
        say(0, 5, "finding the sequence")
        piece = replace(piece, plan_wishes=wished(piece, plan_wishes))  # for --enough
        piece, sequence = order(piece, order_wishes)
        say(1, 5, "planning the columns")
        report = contrast(piece)
        piece, plan = plan_columns(piece, plan_wishes)
        return piece, (sequence, report, plan)

    piece, (sequence, report, plan) = worked(folder, step, work)
    say(2, 5, "drawing the preview")
    files = {
        "piece": folder / "piece.json",
        "sequence": write_sequence_picture(piece, folder / "sequence.png"),
        "preview": write_preview(piece, plan, folder / "preview.png"),
        "preview-value": write_preview(piece, plan, folder / "preview-value.png", view="value"),
    }
    say(4, 5, "writing the sheets")
    files["sheets"] = write_sheets(piece, plan, folder / "sheets.pdf", paper=paper, title=title,
                                   date=date, folder=folder)  # fmt: skip
    ways = ways_out(piece, plan, folder)
    say(5, 5, "done")
    return Made(piece, sequence, report, plan, files, ways)
