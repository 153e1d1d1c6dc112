"""The file's own form, passalong.piece/2: every field with its kind and its limits.

``docs/piece.schema.json`` is written from these classes (a test compares). Kinds and ranges are
checked while the file is decoded; what ties one part to another is checked in
:mod:`sequencer.keeping.checking`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from msgspec import Meta, Struct, field

from sequencer.keeping.wishes import (
    Figure,
    Id,
    Ids,
    OrderWishes,
    Pixel,
    PlanWishes,
    Points,
    ReadWishes,
    Signed,
    Text,
    Word,
)

SCHEMA = "passalong.piece/2"

Fingerprint = Annotated[str, Meta(pattern="^[0-9a-f]{32}$")]
"""BLAKE2b of the content, 128 bits, in hexadecimal."""
MaybeFingerprint = Annotated[str, Meta(pattern="^([0-9a-f]{32})?$")]
Lightness = Annotated[float, Meta(ge=0, le=100)]
Opponent = Annotated[float, Meta(ge=-200, le=200)]
Lab = tuple[Lightness, Opponent, Opponent]
Share = Annotated[float, Meta(gt=0, le=1)]
Part = Annotated[float, Meta(ge=0, le=1)]
Inches = Annotated[float, Meta(gt=0, lt=1000)]
Fraction = Annotated[str, Meta(pattern="^[0-9]{1,12}(/[1-9][0-9]{0,11})?$")]
Scraps = Annotated[list[tuple[Fraction, Fraction]], Meta(min_length=1, max_length=500)]
Texts = Annotated[list[Text], Meta(max_length=500)]
Documents = Annotated[dict[Word, Any], Meta(max_length=1000)]


class Strict(Struct, forbid_unknown_fields=True):
    """Base: a field that is not listed is refused, not lost."""


class PaletteRecord(Strict):
    """One colour of a print."""

    lab: Lab
    share: Share
    name: Word = ""


class PrintRecord(Strict):
    """A print: the fields of ``read --json``, where it was found, and its swatch."""

    id: Id
    name: Word
    photo: Text
    outline: Points
    mean_lab: Lab
    palette: Annotated[list[PaletteRecord], Meta(min_length=1, max_length=200)]
    spread: Figure | None
    size_in: tuple[Inches, Inches] | None
    reference: Word
    uncertainty: Annotated[float, Meta(ge=0, le=200)]
    warnings: Texts
    value: Lightness | None = None
    shared_uncertainty: Annotated[float, Meta(ge=0, le=200)] | None = None
    own_uncertainty: Annotated[float, Meta(ge=0, le=200)] | None = None
    usable_in: tuple[Inches, Inches] | None = None
    scraps: Scraps | None = None
    photo_id: MaybeFingerprint = ""
    number: Annotated[int, Meta(ge=0, le=100_000)] = 0
    swatch: Fingerprint | None = None
    swatch_ppi: Annotated[float, Meta(gt=0, le=1e5)] | None = None
    swatch_matrix: Annotated[list[Signed], Meta(min_length=9, max_length=9)] | None = None


class SeenRecord(Strict):
    """A thing of known colour or size that lies in a photo."""

    kind: Word
    corners: Annotated[list[tuple[Pixel, Pixel]], Meta(max_length=24)]
    odds: Part | None = None
    marked: bool = False


class FoundRecord(Strict):
    """What was seen in a photo beside cloth."""

    size: tuple[Annotated[int, Meta(ge=1, le=1_000_000)], Annotated[int, Meta(ge=1, le=1_000_000)]]
    reference: SeenRecord | None = None
    scale: SeenRecord | None = None


class PhotoRecord(Strict):
    """A photograph, known by its content."""

    id: Fingerprint
    content: Fingerprint
    name: Text
    stem: Id
    file: Text | None = None
    wishes: ReadWishes = field(default_factory=ReadWishes)
    found: FoundRecord | None = None
    reading: Fingerprint | None = None
    swatches: Annotated[list[Fingerprint], Meta(max_length=5000)] = []


class RejectedRecord(Strict):
    """A photograph that could not be used."""

    photo: Text
    why: Text


class FindRecord(Strict):
    """A scrap named by photo and outline."""

    photo: Fingerprint
    outline: Points


class CorrectionRecord(Strict):
    """What the maker set right in what was found."""

    op: Literal["drop", "merge", "split", "redraw", "add", "same", "different"]
    photo: MaybeFingerprint = ""
    finds: Annotated[list[FindRecord], Meta(max_length=500)] = []
    line: Points = []


class NeighboursRecord(Strict):
    """Two prints that meet."""

    a: Id
    b: Id
    cost: Figure | None
    delta_e: Figure | None = None
    value_step: Signed | None = None
    shared: Part | None = None
    verdict: Word | None = None
    certain: bool = True


class AlternativeRecord(Strict):
    """Another sequence worth a look."""

    order: Ids
    total: Annotated[float, Meta(ge=0, le=1e12)]
    worst: Figure
    note: Text = ""


class ProofRecord(Strict):
    """How sure it is that nothing is better."""

    status: Literal["optimal", "bounded"]
    lower_bound: Annotated[float, Meta(ge=0, le=1e12)]
    gap: Part


class ConfidenceRecord(Strict, omit_defaults=True):
    """How the sequence fared with colours drawn again; empty where that was not tried."""

    trials: Annotated[int, Meta(ge=0, le=1_000_000)] = 0
    order: Part = 0.0
    exact: bool = True
    neighbours: list[Part] = []


class MoveRecord(Strict):
    """A change of the maker's own order."""

    kind: Word
    words: Text
    gain: Annotated[float, Meta(ge=-1e12, le=1e12)]
    worst: Figure
    order: Ids


class SequenceRecord(Strict):
    """Document passalong.sequence/1."""

    schema: Literal["passalong.sequence/1"]
    order: Annotated[Ids, Meta(min_length=2)]
    loop: bool
    aim: Literal["even", "total", "worst"]
    total: Annotated[float, Meta(ge=0, le=1e12)]
    worst: Figure
    proof: ProofRecord
    neighbours: list[NeighboursRecord]
    left_out: Ids
    alternatives: list[AlternativeRecord] = []
    seconds: Figure = 0.0
    notes: Texts = []
    sizes: list[AlternativeRecord] = []
    confidence: ConfidenceRecord = field(default_factory=ConfidenceRecord)
    best: Ids = []
    percent: Annotated[float, Meta(ge=-1, le=1e9)] | None = None
    moves: list[MoveRecord] = []


class StepRecord(Strict):
    """A change that can be taken back or again."""

    name: Text
    at: Word
    state: Fingerprint


class HistoryRecord(Strict):
    """The steps before this state and those that were taken back, oldest first."""

    past: Annotated[list[StepRecord], Meta(max_length=1000)] = []
    future: Annotated[list[StepRecord], Meta(max_length=1000)] = []


class StateRecord(Strict):
    """One state of the piece, as a step back returns to it."""

    schema: Literal["passalong.piece/2"]
    photos: Annotated[list[PhotoRecord], Meta(max_length=5000)]
    read_wishes: ReadWishes
    corrections: Annotated[list[CorrectionRecord], Meta(max_length=20_000)]
    names: Annotated[dict[Id, Word], Meta(max_length=5000)]
    sizes: Annotated[dict[Id, Scraps], Meta(max_length=5000)]
    prints: Annotated[list[PrintRecord], Meta(max_length=5000)]
    rejected: Annotated[list[RejectedRecord], Meta(max_length=5000)]
    order_wishes: OrderWishes
    sequence: SequenceRecord | None
    plan_wishes: PlanWishes
    plan: Fingerprint | None = None
    ties: Fingerprint | None = None
    sewn: Documents = field(default_factory=dict)
    cameras: Documents = field(default_factory=dict)


class PieceRecord(StateRecord):
    """piece.json: the present state and the way back."""

    history: HistoryRecord = field(default_factory=HistoryRecord)
