"""The road: the whole job, one step a line. Only this module knows the order of the steps."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sequencer.errors import PlanError, SheetError, UsageError
from sequencer.files import write_out
from sequencer.inches import parse_length, with_units
from sequencer.keys import told
from sequencer.models import ContrastReport, Json, Plan, Print, Progress, Sequence, plain
from sequencer.ordering.sequence import contrast, doubted, order, sequenced
from sequencer.piece import Growing, Piece, worked
from sequencer.summary import Summary, summary, typed

if TYPE_CHECKING:
    from sequencer.plan.answers import WayOut as WayOut
    from sequencer.plan.scaling import Scaled
    from sequencer.sheets.pages.table_photo import TablePhoto

PREVIEW_PPI = 100
UNNAMED = "piece"
"""The folder that a page makes where none is named."""


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
        piece = replace(piece, plan_wishes=_plan_wishes(piece, plan_wishes))  # for --enough
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


def plan_columns(piece: Piece, wishes: Mapping[str, Any] | None = None) -> tuple[Piece, Plan]:
    """Plan columns, strips and steps; without wishes those of last time count. Not saved here.

    The wish ``largest_piece`` asks for the largest the scraps can give, ``best_at`` (a size) for
    the best one of that size; without a size the best that the scraps can give is looked for.
    Wishes are kept as asked: the same prints give the same plan.
    """
    piece, sequence = sequenced(piece)
    wanted = _plan_wishes(piece, wishes)
    plan = _planned_as_wished(list(piece.prints), sequence, wanted)
    kept = _without_files(wanted, plan)
    return replace(piece, plan_wishes=kept, plan=plan.to_json(), sewn={}), plan


def _plan_wishes(piece: Piece, wishes: Mapping[str, Any] | None) -> dict[str, Any]:
    """What is wished now, by ids, in the units of last time; without wishes those of last time."""
    own = {key: piece.plan_wishes[key] for key in ("units",) if key in piece.plan_wishes}
    return _by_id(piece, piece.plan_wishes if wishes is None else {**own, **wishes})


def _planned_as_wished(
    prints: list[Print], sequence: Sequence, wanted: Mapping[str, Any]
) -> Plan:
    """The largest, the best of a size, exactly as asked, or else the best of these scraps."""
    from sequencer.plan.answers import best_at, best_piece, largest_piece
    from sequencer.plan.planner import plan_columns as plan_it

    wishes = {k: v for k, v in wanted.items() if k not in {"largest_piece", "best_at"}}
    strip = wishes.pop("strip", None)
    given = {} if strip in (None, "auto") else {"strip": strip}
    if wanted.get("largest_piece"):
        return largest_piece(prints, sequence, **given, **wishes)
    if best := wanted.get("best_at"):
        return best_at(prints, sequence, best, **given, **wishes)
    if strip == "auto" and wishes.get("size"):
        return best_at(prints, sequence, wishes.pop("size"), **wishes)
    free = not any(wishes.get(key) for key in ("size", "columns", "offsets"))
    known = {one.id for one in prints if one.scraps or one.cuttable_in}
    if free and known & set(sequence.order) and not isinstance(strip, dict):
        try:
            return best_piece(prints, sequence, **given, **wishes)
        except PlanError:  # nothing can be cut: the plain plan says what lacks
            pass
    return plan_it(prints, sequence, prove=True, **given, **wishes)


def planned(piece: Piece) -> tuple[Piece, Plan]:
    """The plan kept with the piece, as it was shown; planned now where there is none yet.

    Raises:
        PlanError: what is kept is not a whole plan.
    """
    if piece.plan is None:
        return plan_columns(piece)
    from sequencer.plan import plan_from_json

    return piece, plan_from_json(piece.plan)


def _by_id(piece: Piece, wishes: Mapping[str, Any]) -> dict[str, Any]:
    """The wishes with prints' ids where their names were typed."""
    wanted = dict(wishes)
    for key in ("border_print", "binding_print"):
        if wanted.get(key):
            wanted[key] = piece.id_of(wanted[key])
    if wanted.get("directional"):
        wanted["directional"] = [piece.id_of(one) for one in wanted["directional"]]
    return wanted


def ways_out(piece: Piece, plan: Plan, folder: Path | None = None) -> tuple[WayOut, ...]:
    """Where scraps fall short: the ways out, best first, each with what it costs.

    Their commands name the piece's ``folder``.
    """
    if not any(need.short_by for need in plan.fabric) or plan.options.get("sewn"):
        return ()
    from sequencer.order import transition_graph
    from sequencer.plan.answers import ways_out as find

    graph = transition_graph(list(piece.prints))
    costs = {(a, b): float(cost) for a, b, cost in graph.edges(data="cost")}
    both = {**costs, **{(b, a): cost for (a, b), cost in costs.items()}}
    called = piece.labels
    return tuple(
        replace(way, folder=typed(folder), text=told(way.text, called),
                lacking=told(way.lacking, called))
        for way in find(plan, list(piece.prints), both)
    )  # fmt: skip


def take_way_out(piece: Piece, number: int) -> tuple[Piece, Plan]:
    """The plan after one of its ways out, and the wishes that fix it. Not saved here.

    Raises:
        UsageError: there is no such way.
    """
    from sequencer.keeping.wishes import PlanWishes as Kept

    piece, plan = planned(piece)
    ways = ways_out(piece, plan)
    if not 1 <= number <= len(ways):
        raise UsageError(
            f"There is no way out number {number}: "
            + (f"{len(ways)} are offered, see passalong plan FOLDER --ways-out." if ways else
               "nothing lacks, or nothing helps.")
        )  # fmt: skip
    way = ways[number - 1]
    if way.seq != plan.prints:
        piece, _ = order(piece, {"loop": True, "sequence": list(way.seq)})
    wishes = {
        key: value for key, value in way.plan.options["asked"].items()
        if key in Kept.__struct_fields__ and value not in (None, (), [], False)
    }  # fmt: skip
    return replace(piece, plan_wishes=wishes, plan=way.plan.to_json()), way.plan


def sew_on(
    piece: Piece, columns: list[int], left: str | None = None, use_up: bool = False
) -> tuple[Piece, Plan]:
    """Columns that are cut and sewn stay; the rest is planned from what is left. Not saved here.

    ``columns``: numbers from 1. ``left``: what is left of the strip set cut last, as measured.
    """
    from sequencer.plan.answers import go_on

    piece, plan = planned(piece)
    units = str(plan.options["units"])
    rest = None if left is None else parse_length(with_units(left, units))
    fresh = go_on(plan, list(piece.prints), columns, rest, use_up)
    sewn = {"columns": list(fresh.options["sewn"]["columns"]), "left": left}
    return replace(piece, plan=fresh.to_json(), sewn=sewn), fresh


def _without_files(wishes: dict[str, Any], plan: Plan) -> dict[str, Any]:
    """Wishes with a curve file's points in its place, since the file may move, and with widths
    that were fitted, or listed in sequence, by print: a moved cloth keeps its own.
    """
    asked = plan.options["asked"]
    kept = {**wishes, "curve": plain(asked["curve"])} if isinstance(
        asked["curve"], Mapping) else dict(wishes)
    if not {"largest_piece", "best_at"} & set(wishes) and wishes.get("strip") != "auto":
        kept |= {key: plain(asked[key]) for key in ("strip", "fitted")
                 if isinstance(asked.get(key), Mapping)}  # fmt: skip
    return kept


def scale(piece: Piece, size: str) -> Scaled:
    """The same design with its centre at another size: what survives, and three plain answers."""
    from sequencer.plan.scaling import scale as scale_it

    piece, plan = planned(piece)
    return scale_it(plan, list(piece.prints), size)


def write_scale_picture(piece: Piece, scaled: Scaled, path: Path) -> Path:
    """Both sizes side by side, as PNG."""
    from sequencer.rendering import beside

    return _write_png(beside(scaled.before, scaled.plan, list(piece.prints)), path)


def write_sequence_picture(piece: Piece, path: Path) -> Path:
    """Swatches in order with the contrast between them, as PNG."""
    from sequencer.rendering import sequence_picture

    piece, sequence = doubted(piece)
    return _write_png(sequence_picture(list(piece.prints), sequence), path)


def write_preview(
    piece: Piece, plan: Plan, path: Path, view: str = "colour", ppi: float | None = None
) -> Path:
    """The finished piece as it will look, as PNG.

    Without ``ppi`` near PREVIEW_PPI, where the ruler's steps are whole pixels.
    """
    from sequencer.rendering import page_ppi, render

    ppi = page_ppi(plan, PREVIEW_PPI) if ppi is None else ppi
    return _write_png(render(plan, list(piece.prints), ppi=ppi, view=view), path)


def write_sheets(
    piece: Piece, plan: Plan, path: Path, paper: str = "letter", units: str | None = None,
    title: str | None = None, date: str | None = None, folder: Path | None = None,
) -> Path:  # fmt: skip
    """The cutting and sewing sheets, as PDF; ``units`` of the plan unless given.

    With the piece's ``folder`` they show the photographs of its scraps, where those are there, and
    are called after it unless they have a ``title``.
    """
    from sequencer.sheets import write_sheets as write

    piece, sequence = doubted(piece)
    try:
        write(plan, list(piece.prints), path, paper=paper, units=units, seq=sequence,
              report=contrast(piece), title=title or _named(folder), date=date,
              photos=table_photos(piece, folder) if folder else ())
    except OSError as error:
        raise SheetError(f"{path} cannot be written: {error.strerror or error}.") from None
    return path


def _named(folder: Path | None) -> str | None:
    """What the sheets of a folder are called; None where nobody gave it a name."""
    name = folder.resolve().name if folder else UNNAMED
    return None if name == UNNAMED else name


def table_photos(piece: Piece, folder: Path) -> list[TablePhoto]:
    """The photographs in which several scraps lie, upright, with the outline of each find."""
    from sequencer.errors import PhotoError
    from sequencer.keeping.originals import place_of
    from sequencer.photo.files.load import load as load_photo
    from sequencer.sheets.pages.table_photo import TablePhoto

    shown = []
    for kept in piece.photos:
        finds = tuple((one.id, one.outline) for one in piece.prints if one.photo_id == kept.id)
        path = place_of(kept, folder) if len(finds) > 1 else None
        if path is None:
            continue
        try:
            photo = load_photo(path)
        except PhotoError:
            continue  # the sheets do without a picture that has gone bad
        shown.append(TablePhoto(kept.name, photo.pixels, photo.factor, finds))
    return shown


def _write_png(picture: Any, path: Path) -> Path:
    buffer = io.BytesIO()
    picture.save(buffer, "PNG")
    try:
        write_out(path, buffer.getvalue())
    except OSError as error:
        raise SheetError(f"{path} cannot be written: {error.strerror or error}.") from None
    return path
