"""The whole flow on one page: what each room hands to the next.

photo → :class:`Print` → graph → :class:`Sequence` → :class:`ContrastReport` → :class:`Plan`

Records are frozen. Lengths are :class:`~fractions.Fraction` of an inch. Colours are CIELAB,
D65, 2° observer, as ``(L, a, b)``. Pixel coordinates are x, y in the photo turned upright.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sequencer.errors import PieceError
from sequencer.files import fingerprint, read_ordinary

Lab = tuple[float, float, float]
Pixels = NDArray[np.uint8]
Json = dict[str, Any]
Progress = Callable[[int, int, str], None]
"""Called as progress(done, total, what) by long work; a face decides how to show it."""


# ── photo → prints ────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class PaletteColour:
    """One colour of a print: ``share`` of the cloth in (0, 1], ``name`` in plain words."""

    lab: Lab
    share: float
    name: str = ""

    def to_json(self) -> Json:
        """The contract's object, with the plain name beside it."""
        return {"lab": _rounded(self.lab), "share": round(self.share, 6), "name": self.name}


class Swatch:
    """A rectangle of photographed cloth for the render: sRGB, (h, w, 3), upright.

    ``source``: the pixels, a PNG of them, or the file that holds it, which is decoded when it is
    looked at: a box of sixty prints can be opened without sixty pictures. ``ppi``: pixels for an
    inch of cloth; None where the photo has no scale. ``matrix``: XYZ to XYZ, row by row, that
    brings the source's colours to the print's when it is looked at; None where nothing does.
    ``content``: the fingerprint that a file's bytes must have, so that no other cloth is shown.
    """

    def __init__(
        self,
        source: Pixels | bytes | Path,
        ppi: float | None = None,
        matrix: tuple[float, ...] | None = None,
        content: str | None = None,
    ) -> None:
        self.source = source
        self.ppi = ppi
        self.matrix = matrix
        self.content = content

    @property
    def pixels(self) -> Pixels:
        """(h, w, 3) sRGB.

        Raises:
            PieceError: the file it is kept in is gone, damaged or another one.
        """
        if isinstance(self.source, np.ndarray):
            return _coloured(self.source, self.matrix)
        return _decoded(self.source, self.matrix, self.content)

    def packed(self) -> Swatch:
        """The same swatch with its pixels as PNG: a fifth of the memory, ready to be kept."""
        if not isinstance(self.source, np.ndarray):
            return self
        from PIL import Image

        buffer = io.BytesIO()
        Image.fromarray(self.source).save(buffer, "PNG", compress_level=1)
        return Swatch(buffer.getvalue(), self.ppi, self.matrix)


_MOST_BYTES, _MOST_PIXELS = 100_000_000, 20_000_000


@lru_cache(maxsize=16)
def _decoded(
    source: bytes | Path, matrix: tuple[float, ...] | None, content: str | None
) -> Pixels:
    from PIL import Image

    try:
        data = source if isinstance(source, bytes) else read_ordinary(source, _MOST_BYTES)
        if content is not None and fingerprint(data) != content:
            raise ValueError("its bytes are no longer those that were kept")
        with Image.open(io.BytesIO(data), formats=["PNG"]) as image:
            if image.width * image.height > _MOST_PIXELS:
                raise ValueError(f"{image.width} × {image.height} pixels are no swatch")
            pixels = np.asarray(image.convert("RGB"))
    except Exception as error:  # decoders raise nearly anything on damaged files
        where = f"{source}: " if isinstance(source, Path) else ""
        raise PieceError(
            f"{where}the picture of a print cannot be read ({error}). Read the photos again."
        ) from None
    return _coloured(pixels, matrix)


def _coloured(pixels: Pixels, matrix: tuple[float, ...] | None) -> Pixels:
    """The pixels by a matrix of XYZ: the same as one matrix in linear light."""
    if matrix is None:
        return pixels
    from sequencer.colour import spaces

    of_xyz = np.reshape(matrix, (3, 3))
    of_light = spaces.xyz_to_linear(spaces.linear_to_xyz(np.eye(3)) @ of_xyz.T)
    return spaces.linear_to_srgb8(spaces.srgb8_to_linear(pixels) @ of_light.astype(np.float32))


@dataclass(frozen=True)
class Seen:
    """A thing of known colour or size in a photo.

    ``kind``: sheet, grey, target, bankcard… ``corners``: x, y in the upright photo. ``odds``: how
    likely it is that it is one, 0 to 1; None where the maker says so, which is ``marked``.
    """

    kind: str
    corners: tuple[tuple[float, float], ...]
    odds: float | None = None
    marked: bool = False


@dataclass(frozen=True)
class Found:
    """What was seen in a photo beside cloth: for faces to show and for the maker to set right.

    ``size``: width, height of the upright photo in pixels. ``reference``: what its colours were
    taken from. ``scale``: what its sizes were taken from.
    """

    size: tuple[int, int]
    reference: Seen | None = None
    scale: Seen | None = None


@dataclass(frozen=True)
class Print:
    """One fabric as the photograph shows it.

    ``outline``: polygon in the upright photo. ``mean_lab``: arithmetic mean over the cloth.
    ``palette``: shares add up to 1, largest first. ``spread``: ΔE00 of strip-sized patches from
    their mean, None without scale. ``size_in``: measured (long, short) in inches, or None.
    ``usable_in``: (long, short) in inches of the largest rectangle that a ragged outline holds;
    None where the outline is a rectangle itself or no size is known.
    ``reference``: sheet, grey, target, table or none. ``uncertainty``: ΔE00 that the true mean
    colour stays within about nine times in ten; ``shared_uncertainty``: what of it all prints of
    the photo share, mostly lightness; ``own_uncertainty``: what moves this print alone (the squares
    of both add up to the square of the whole; None where not known). ``length`` and ``width`` of
    the usable scrap are what planning takes; a user may set them. ``scraps``: (length, width) in
    inches of each scrap of the print where they were typed; empty where ``size_in`` is all that is
    known. ``photo_id`` and ``number``: fingerprint of the photograph's content, and which find of
    that photo it is, from 1; empty and 0 where the print belongs to no piece.
    """

    id: str
    name: str
    photo: str
    outline: tuple[tuple[float, float], ...]
    mean_lab: Lab
    palette: tuple[PaletteColour, ...]
    spread: float | None = None
    size_in: tuple[float, float] | None = None
    reference: str = "none"
    uncertainty: float = 10.0
    warnings: tuple[str, ...] = ()
    swatch: Swatch | None = field(default=None, compare=False, repr=False)
    scraps: tuple[tuple[Fraction, Fraction], ...] = ()
    usable_in: tuple[float, float] | None = None
    photo_id: str = ""
    number: int = 0
    shared_uncertainty: float | None = None
    own_uncertainty: float | None = None

    @property
    def value(self) -> float:
        """Lightness L* of the mean colour, 0 (black) to 100 (white)."""
        return self.mean_lab[0]

    @property
    def cuttable_in(self) -> tuple[float, float] | None:
        """(long, short) in inches that strips are cut from; None where no size is known."""
        return self.usable_in or self.size_in

    def to_json(self) -> Json:
        """The contract's print object (the swatch is kept as a picture beside it)."""
        return {
            "id": self.id,
            "name": self.name,
            "photo": self.photo,
            "outline": [[round(x, 1), round(y, 1)] for x, y in self.outline],
            "mean_lab": _rounded(self.mean_lab),
            "palette": [colour.to_json() for colour in self.palette],
            "value": round(self.value, 4),
            "spread": None if self.spread is None else round(self.spread, 3),
            "size_in": None if self.size_in is None else [round(s, 3) for s in self.size_in],
            "usable_in": None if self.usable_in is None else [round(s, 3) for s in self.usable_in],
            "reference": self.reference,
            "uncertainty": round(self.uncertainty, 3),
            "shared_uncertainty": _maybe(self.shared_uncertainty),
            "own_uncertainty": _maybe(self.own_uncertainty),
            "warnings": list(self.warnings),
            **({"scraps": plain(self.scraps)} if self.scraps else {}),
        }


@dataclass(frozen=True)
class Rejected:
    """A photograph that could not be used, and why, in one line."""

    photo: str
    why: str

    def to_json(self) -> Json:
        """The contract's object."""
        return {"photo": self.photo, "why": self.why}


# ── graph → sequence → contrast ───────────────────────────────────────────────────────────


@dataclass(frozen=True)
class Neighbours:
    """Two prints that meet in the sequence.

    ``cost``: transition cost (≥ 0). ``delta_e``: ΔE00 of the means. ``value_step``: L* of b less
    L* of a. ``shared``: share of colour that both hold, 0 to 1. ``verdict``: blurs, gentle, clear
    or jumps. ``certain``: whether that ranking stands within the colours' uncertainty. Figures a
    bare graph does not carry are None.
    """

    a: str
    b: str
    cost: float
    delta_e: float | None = None
    value_step: float | None = None
    shared: float | None = None
    verdict: str | None = None
    certain: bool = True

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "a": self.a,
            "b": self.b,
            "cost": _maybe(self.cost),
            "delta_e": _maybe(self.delta_e),
            "value_step": _maybe(self.value_step),
            "shared": _maybe(self.shared),
            "verdict": self.verdict,
            "certain": self.certain,
        }


@dataclass(frozen=True)
class Alternative:
    """Another sequence worth a look; ``note`` says in one sentence how it differs."""

    order: tuple[str, ...]
    total: float
    worst: float
    note: str = ""

    def to_json(self) -> Json:
        """The contract's object, with the note."""
        return {
            "order": list(self.order),
            "total": _maybe(self.total),
            "worst": _maybe(self.worst),
            "note": self.note,
        }


@dataclass(frozen=True)
class Sequence:
    """Prints in order, with the proof.

    ``total`` and ``lower_bound`` are in the aim's own unit (even: sum of squared costs; total:
    sum; worst: the sum, among the orders whose largest cost is least). ``worst``: the largest
    neighbour cost. ``status``: optimal or bounded. ``gap``: (total - lower_bound) / total.
    A loop lists its closing pair last in ``neighbours``. ``sizes``: the best of each size where
    a range of sizes was asked for, smallest first, with what each more print buys.
    ``confidence``: how it fared with colours drawn again within their uncertainty. Where the order
    is the maker's own: ``best`` is the best order of the same prints, ``percent`` how much more
    hers costs, ``moves`` the changes that would gain most.
    """

    order: tuple[str, ...]
    loop: bool
    aim: str
    total: float
    worst: float
    status: str
    lower_bound: float
    gap: float
    neighbours: tuple[Neighbours, ...]
    left_out: tuple[str, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    seconds: float = 0.0
    notes: tuple[str, ...] = ()
    sizes: tuple[Alternative, ...] = ()
    confidence: Json = field(default_factory=dict)
    best: tuple[str, ...] = ()
    percent: float | None = None
    moves: tuple[Json, ...] = ()

    def how_sure(self) -> str:
        """In words: what is proved, and how often it held with colours within their uncertainty."""
        proved = self.status == "optimal"
        share = self.confidence.get("order") if self.confidence.get("trials") else None
        near = f"within {100 * self.gap:.1f} % of the best possible"
        if share is None:
            return "no better order exists (proved)" if proved else near
        what, of = ("proved for the measured colours", "their") if proved else (
            near, "the colours’")
        about = "" if self.confidence.get("exact", True) else "about "
        return f"{what}; within {of} uncertainty it held in {about}{round(10 * share)} of 10"

    def to_json(self) -> Json:
        """Document ``passalong.sequence/1``."""
        return {
            "schema": "passalong.sequence/1",
            "order": list(self.order),
            "loop": self.loop,
            "aim": self.aim,
            "total": _maybe(self.total),
            "worst": _maybe(self.worst),
            "proof": {
                "status": self.status,
                "lower_bound": _maybe(self.lower_bound),
                "gap": _maybe(self.gap),
            },
            "neighbours": [pair.to_json() for pair in self.neighbours],
            "left_out": list(self.left_out),
            "alternatives": [other.to_json() for other in self.alternatives],
            "seconds": round(self.seconds, 3),
            "notes": list(self.notes),
            "sizes": [one.to_json() for one in self.sizes],
            "confidence": dict(self.confidence),
            "best": list(self.best),
            "percent": _maybe(self.percent),
            "moves": [dict(move) for move in self.moves],
        }


@dataclass(frozen=True)
class ContrastReport:
    """How the neighbours meet: pairs in sewing order, sentences for the worst, bridges.

    ``vision``: for protan, deutan and tritan eyes, each pair's ΔE00 and whether it blurs.
    ``looks_lighter``: by how much L* strong colours look lighter than they are, by print id.
    ``hand_over``: for each pair the colours that one hands to the other.
    """

    pairs: tuple[Neighbours, ...]
    sentences: tuple[str, ...]
    value_range: float
    bridges: tuple[Json, ...] = ()
    vision: Mapping[str, Any] = field(default_factory=dict)
    looks_lighter: Mapping[str, float] = field(default_factory=dict)
    hand_over: tuple[Json, ...] = ()

    def to_json(self) -> Json:
        """Document ``passalong.contrast/1``."""
        return {
            "schema": "passalong.contrast/1",
            "pairs": [pair.to_json() for pair in self.pairs],
            "sentences": list(self.sentences),
            "value_range": _maybe(self.value_range),
            "bridges": [dict(bridge) for bridge in self.bridges],
            "vision": plain(self.vision),
            "looks_lighter": dict(self.looks_lighter),
            "hand_over": [dict(one) for one in self.hand_over],
        }


# ── plan ──────────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True)
class Column:
    """One column: widths in inches, ``offset`` in prints against the first print (≥ 0, < n)."""

    cut_width: Fraction
    finished_width: Fraction
    offset: int

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "cut_width": str(self.cut_width),
            "finished_width": str(self.finished_width),
            "offset": self.offset,
        }


@dataclass(frozen=True)
class StripCut:
    """One strip to cut: width across, length along."""

    width: Fraction
    length: Fraction

    def to_json(self) -> Json:
        """The contract's object."""
        return {"width": str(self.width), "length": str(self.length)}


Point = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class ScrapCut:
    """One strip in its scrap: ``width`` across, ``length`` along the scrap's ``along`` side.

    ``at``: its corner, x along the scrap's long side, from the squared corner. ``makes``: the
    name that its cut_strip step gives it.
    """

    at: Point
    along: str
    width: Fraction
    length: Fraction
    makes: str

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "at": plain(self.at),
            "along": self.along,
            "width": str(self.width),
            "length": str(self.length),
            "makes": self.makes,
        }


@dataclass(frozen=True)
class ScrapUse:
    """What is cut from scrap number ``scrap`` (from 0, as in the print's list), and what is left.

    Sides are (long, short). ``usable``: what straightening leaves. ``at_least``: the smallest
    scrap that the cuts fit. ``cuts``: in the order of cutting. ``left``: (x, y, width, height).
    ``sure``: the cuts fit even if the photo measured the scrap too large.
    """

    scrap: int
    size: Point
    usable: Point
    at_least: Point
    cuts: tuple[ScrapCut, ...]
    left: tuple[tuple[Fraction, Fraction, Fraction, Fraction], ...]
    sure: bool = True

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "scrap": self.scrap,
            "size": plain(self.size),
            "usable": plain(self.usable),
            "at_least": plain(self.at_least),
            "cuts": [cut.to_json() for cut in self.cuts],
            "left": plain(self.left),
            "sure": self.sure,
        }


@dataclass(frozen=True)
class FabricNeed:
    """What one print must give. ``have_length`` is None where the scrap's size is unknown.

    ``short_by``: length of strip that no scrap holds. ``scraps``: what is cut from each.
    ``piece``: where no size is known, (long, short) of a piece that holds all strips.
    To buy instead: ``cloth`` off the bolt, or so many pre-cut strips or fat quarters (None where
    the strips are too wide for them).
    """

    print: str
    strips: tuple[StripCut, ...]
    needed_length: Fraction
    have_length: Fraction | None
    short_by: Fraction
    joins: int
    cloth: Fraction | None = None
    precut_strips: int | None = None
    fat_quarters: int | None = None
    scraps: tuple[ScrapUse, ...] = ()
    piece: Point | None = None

    def to_json(self) -> Json:
        """The contract's object."""
        return {
            "print": self.print,
            "strips": [strip.to_json() for strip in self.strips],
            "needed_length": str(self.needed_length),
            "have_length": None if self.have_length is None else str(self.have_length),
            "short_by": str(self.short_by),
            "joins": self.joins,
            "cloth": None if self.cloth is None else str(self.cloth),
            "precut_strips": self.precut_strips,
            "fat_quarters": self.fat_quarters,
            "scraps": [use.to_json() for use in self.scraps],
            "piece": plain(self.piece),
        }


@dataclass(frozen=True)
class SetStrip:
    """One strip of a set, ``number`` from the top: its pieces from the squared end on.

    ``pieces``: name, scrap (None: no scrap holds it) and length of each. ``joins``: for each,
    ``from`` and ``to`` in inches from the squared end, the ``columns`` it falls into (from 1),
    and ``where`` in words.
    """

    number: int
    print: str
    pieces: tuple[tuple[str, int | None, Fraction], ...]
    joins: tuple[Mapping[str, Any], ...] = ()

    def to_json(self) -> Json:
        """Plain form."""
        return {
            "strip": self.number,
            "print": self.print,
            "pieces": [
                {"makes": makes, "scrap": scrap, "length": str(length)}
                for makes, scrap, length in self.pieces
            ],
            "joins": [plain(join) for join in self.joins],
        }


@dataclass(frozen=True)
class SetTable:
    """One strip set: what its strips are cut to, what squaring takes, what is to spare.

    ``columns``: numbers (from 1) of the columns cut from it, in cutting order; a column that is
    stacked from several segments comes as often.
    """

    name: str
    press: str
    length: Fraction
    squaring: Fraction
    spare: Fraction
    columns: tuple[int, ...]
    strips: tuple[SetStrip, ...]

    def to_json(self) -> Json:
        """Plain form."""
        return {
            "set": self.name,
            "press": self.press,
            "length": str(self.length),
            "squaring": str(self.squaring),
            "spare": str(self.spare),
            "columns": list(self.columns),
            "strips": [strip.to_json() for strip in self.strips],
        }


@dataclass(frozen=True)
class PlanWarning:
    """Something the maker should know: a stable ``code`` and a plain ``text``.

    ``text`` is in the plan's units, ``text_in`` and ``text_cm`` in either; empty where no length
    is told.
    """

    code: str
    text: str
    text_in: str = ""
    text_cm: str = ""

    def said(self, units: str) -> str:
        """The text with its lengths in these units, ``in`` or ``cm``."""
        return (self.text_cm if units == "cm" else self.text_in) or self.text

    def to_json(self) -> Json:
        """The contract's object."""
        return {"code": self.code, **_texts(self)}


@dataclass(frozen=True)
class Instruction:
    """One thing to do at the machine, in words, made from executable steps.

    ``kind``: the ``op`` of those steps. ``text``: what to do, in the plan's units; ``text_in`` and
    ``text_cm`` in either. ``steps``: which of Plan.steps it covers, as (first, past the last).
    """

    kind: str
    text: str
    steps: tuple[int, int]
    text_in: str = ""
    text_cm: str = ""

    def said(self, units: str) -> str:
        """The text with its lengths in these units, ``in`` or ``cm``."""
        return (self.text_cm if units == "cm" else self.text_in) or self.text

    def to_json(self) -> Json:
        """Plain form."""
        return {"kind": self.kind, **_texts(self), "steps": list(self.steps)}


@dataclass(frozen=True)
class Plan:
    """The panel, exact. In column c, row r (0 at the top) shows prints[(r + offset_c) mod n].

    ``steps`` is the sewing itself, executable; each is ``{"op": …}`` with lengths as Fractions.
    ``border``, ``binding``, ``backing`` and ``batting`` are plain mappings with Fraction lengths
    (see sequencer/plan/cloth/finishing.py), None where the piece has none. ``fit_rms_rows``: how
    far the columns stray from the curve, root mean square in rows; None without a curve.
    """

    prints: tuple[str, ...]
    seam: Fraction
    repeats: int
    rows: int
    finished_strip: Mapping[str, Fraction]
    columns: tuple[Column, ...]
    centre: tuple[Fraction, Fraction]
    bordered: tuple[Fraction, Fraction]
    fabric: tuple[FabricNeed, ...]
    layers: Mapping[str, Any]
    seams: Mapping[str, Any]
    border: Mapping[str, Any] | None
    binding: Mapping[str, Any] | None
    backing: Mapping[str, Any] | None
    batting: Mapping[str, Any] | None
    steps: tuple[Mapping[str, Any], ...]
    warnings: tuple[PlanWarning, ...] = ()
    fit_rms_rows: float | None = None
    instructions: tuple[Instruction, ...] = ()
    method: str = "loop"
    press: str = "open"
    curve: str = "wave"
    options: Mapping[str, Any] = field(default_factory=dict)
    sets: tuple[SetTable, ...] = ()
    search: Mapping[str, Any] = field(default_factory=dict)

    def patch_print(self, row: int, column: int) -> str:
        """The print shown at this row (0 at the top) of this column (0 at the left)."""
        return self.prints[(row + self.columns[column].offset) % len(self.prints)]

    def to_json(self) -> Json:
        """Document ``passalong.plan/1``."""
        return {
            "schema": "passalong.plan/1",
            "prints": list(self.prints),
            "seam": str(self.seam),
            "repeats": self.repeats,
            "rows": self.rows,
            "finished_strip": {key: str(width) for key, width in self.finished_strip.items()},
            "columns": [column.to_json() for column in self.columns],
            "finished": {
                "centre": [str(side) for side in self.centre],
                "bordered": [str(side) for side in self.bordered],
            },
            "fabric": [need.to_json() for need in self.fabric],
            "layers": plain(self.layers),
            "seams": plain(self.seams),
            "border": plain(self.border),
            "binding": plain(self.binding),
            "backing": plain(self.backing),
            "batting": plain(self.batting),
            "steps": [plain(step) for step in self.steps],
            "warnings": [warning.to_json() for warning in self.warnings],
            "fit": {"rms_rows": _maybe(self.fit_rms_rows)},
            "instructions": [item.to_json() for item in self.instructions],
            "method": self.method,
            "press": self.press,
            "curve": self.curve,
            "options": plain(self.options),
            "sets": [one.to_json() for one in self.sets],
            "search": plain(self.search),
        }


def plain(value: Any) -> Any:
    """The JSON form of a nested value: Fractions become strings, tuples lists."""
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return value


def _texts(item: PlanWarning | Instruction) -> Json:
    """The sentence, and its other forms where it tells a length."""
    if item.text_in == item.text_cm:
        return {"text": item.text}
    return {"text": item.text, "text_in": item.text_in, "text_cm": item.text_cm}


def _rounded(lab: Lab) -> list[float]:
    return [round(float(part), 4) for part in lab]


def _maybe(number: float | None) -> float | None:
    return None if number is None else round(float(number), 6)
