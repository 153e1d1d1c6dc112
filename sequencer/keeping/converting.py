"""Records of the file ↔ the state the program works with."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

import msgspec

from sequencer.keeping import record as kept
from sequencer.keeping.state import Correction, Find, KeptPhoto, Piece, Step
from sequencer.keeping.wishes import OrderWishes, PlanWishes, ReadWishes
from sequencer.models import (
    Alternative,
    Found,
    Json,
    Neighbours,
    PaletteColour,
    Print,
    Rejected,
    Seen,
    Sequence,
    Swatch,
    plain,
)

SwatchOf = Callable[[str, kept.PrintRecord], Swatch | None]
"""Fingerprint and print → the swatch, read on demand."""


def as_record(piece: Piece, swatches: Mapping[str, str], plan: str | None) -> kept.StateRecord:
    """The state as the file holds it. ``swatches``: fingerprint by print id.

    Raises:
        msgspec.ValidationError: something in it is out of the file's limits.
    """
    return msgspec.convert(_plain_state(piece, swatches, plan), kept.StateRecord)


def _plain_state(piece: Piece, swatches: Mapping[str, str], plan: str | None) -> Json:
    return {
        "schema": kept.SCHEMA,
        "photos": [_plain_photo(photo) for photo in piece.photos],
        "read_wishes": plain(piece.read_wishes),
        "corrections": [_plain_correction(one) for one in piece.corrections],
        "names": dict(piece.names),
        "sizes": plain(piece.sizes),
        "prints": [_plain_print(one, swatches.get(one.id)) for one in piece.prints],
        "rejected": [one.to_json() for one in piece.rejected],
        "order_wishes": plain(piece.order_wishes),
        "sequence": None if piece.sequence is None else plain(piece.sequence.to_json()),
        "plan_wishes": plain(piece.plan_wishes),
        "plan": plan,
        "ties": piece.ties,
        "sewn": plain(piece.sewn),
        "cameras": plain(piece.cameras),
    }


def _plain_print(one: Print, swatch: str | None) -> Json:
    lightness = min(100.0, max(0.0, one.mean_lab[0]))
    data = {
        **one.to_json(),
        "value": round(lightness, 4),
        "photo_id": one.photo_id,
        "number": one.number,
        "swatch": swatch,
        "swatch_ppi": one.swatch.ppi if one.swatch and swatch else None,
        "swatch_matrix": one.swatch.matrix if one.swatch and swatch else None,
    }
    data["mean_lab"] = _in_range(data["mean_lab"])
    data["palette"] = [{**c, "lab": _in_range(c["lab"])} for c in data["palette"]]
    return data


def _in_range(lab: list[float]) -> list[float]:
    """Agreement between photos may carry a white past 100 by a hair."""
    return [min(100.0, max(0.0, lab[0])), *lab[1:]]


def _plain_photo(photo: KeptPhoto) -> Json:
    found = photo.found
    return {
        "id": photo.id,
        "content": photo.content,
        "name": photo.name,
        "stem": photo.stem,
        "file": photo.file,
        "wishes": plain(photo.wishes),
        "found": None if found is None else {
            "size": list(found.size),
            "reference": _plain_seen(found.reference),
            "scale": _plain_seen(found.scale),
        },
        "reading": photo.reading,
        "swatches": list(photo.swatches),
    }


def _plain_seen(seen: Seen | None) -> Json | None:
    if seen is None:
        return None
    corners = [[round(x, 1), round(y, 1)] for x, y in seen.corners]
    odds = None if seen.odds is None else round(seen.odds, 4)
    return {"kind": seen.kind, "corners": corners, "odds": odds, "marked": seen.marked}


def _plain_correction(one: Correction) -> Json:
    return {
        "op": one.op,
        "photo": one.photo,
        "finds": [{"photo": f.photo, "outline": _points(f.outline)} for f in one.finds],
        "line": _points(one.line),
    }


def _points(outline: tuple[tuple[float, float], ...]) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in outline]


def from_record(record: kept.StateRecord, swatch_of: SwatchOf, plan: Json | None) -> Piece:
    """The state in a checked record."""
    return Piece(
        prints=tuple(_print(one, swatch_of) for one in record.prints),
        rejected=tuple(Rejected(one.photo, one.why) for one in record.rejected),
        photos=tuple(_photo(photo) for photo in record.photos),
        read_wishes=_wishes(record.read_wishes),
        corrections=tuple(_correction(one) for one in record.corrections),
        names=record.names,
        sizes={id_: [list(scrap) for scrap in scraps] for id_, scraps in record.sizes.items()},
        cameras=record.cameras,
        sequence=None if record.sequence is None else _sequence(record.sequence),
        order_wishes=_wishes(record.order_wishes),
        plan_wishes=_wishes(record.plan_wishes),
        plan=plan,
        sewn=record.sewn,
        ties=record.ties,
    )


def steps_of(records: list[kept.StepRecord]) -> tuple[Step, ...]:
    """Steps of the history."""
    return tuple(Step(one.name, one.at, one.state) for one in records)


def step_records(steps: tuple[Step, ...]) -> list[kept.StepRecord]:
    """Steps as the file holds them."""
    return [kept.StepRecord(one.name, one.at, one.state) for one in steps]


def as_kept(one: Print) -> Print:
    """The print with its figures as the file holds them, so that a reload changes none."""
    unnamed = _plain_print(replace(one, id="x", name="x"), None)
    held = _print(msgspec.convert(unnamed, kept.PrintRecord), lambda fingerprint, record: None)
    return replace(held, id=one.id, name=one.name, swatch=one.swatch)


def _wishes(record: ReadWishes | OrderWishes | PlanWishes) -> dict[str, Any]:
    builtin: dict[str, Any] = msgspec.to_builtins(record)
    return builtin


def _photo(record: kept.PhotoRecord) -> KeptPhoto:
    found = record.found
    return KeptPhoto(
        id=record.id,
        content=record.content,
        name=record.name,
        stem=record.stem,
        file=record.file,
        wishes=_wishes(record.wishes),
        found=None if found is None else Found(
            found.size, _seen(found.reference), _seen(found.scale)
        ),
        reading=record.reading,
        swatches=tuple(record.swatches),
    )


def _seen(record: kept.SeenRecord | None) -> Seen | None:
    if record is None:
        return None
    return Seen(record.kind, tuple(record.corners), record.odds, record.marked)


def _correction(record: kept.CorrectionRecord) -> Correction:
    finds = tuple(Find(find.photo, tuple(find.outline)) for find in record.finds)
    return Correction(record.op, record.photo, finds, tuple(record.line))


def _print(record: kept.PrintRecord, swatch_of: SwatchOf) -> Print:
    swatch = record.swatch
    return Print(
        id=record.id,
        name=record.name,
        photo=record.photo,
        outline=tuple(record.outline),
        mean_lab=record.mean_lab,
        palette=tuple(PaletteColour(c.lab, c.share, c.name) for c in record.palette),
        spread=record.spread,
        size_in=record.size_in,
        reference=record.reference,
        uncertainty=record.uncertainty,
        warnings=tuple(record.warnings),
        swatch=None if swatch is None else swatch_of(swatch, record),
        scraps=tuple((Fraction(a), Fraction(b)) for a, b in record.scraps or ()),
        usable_in=record.usable_in,
        photo_id=record.photo_id,
        number=record.number,
        shared_uncertainty=record.shared_uncertainty,
        own_uncertainty=record.own_uncertainty,
    )


def _sequence(record: kept.SequenceRecord) -> Sequence:
    confidence: dict[str, Any] = msgspec.to_builtins(record.confidence)
    return Sequence(
        order=tuple(record.order),
        loop=record.loop,
        aim=record.aim,
        total=record.total,
        worst=record.worst,
        status=record.proof.status,
        lower_bound=record.proof.lower_bound,
        gap=record.proof.gap,
        neighbours=tuple(
            Neighbours(
                pair.a, pair.b, float("inf") if pair.cost is None else pair.cost,
                pair.delta_e, pair.value_step, pair.shared, pair.verdict, pair.certain,
            )
            for pair in record.neighbours
        ),
        left_out=tuple(record.left_out),
        alternatives=_alternatives(record.alternatives),
        seconds=record.seconds,
        notes=tuple(record.notes),
        sizes=_alternatives(record.sizes),
        confidence=confidence,
        best=tuple(record.best),
        percent=record.percent,
        moves=tuple(msgspec.to_builtins(move) for move in record.moves),
    )


def _alternatives(records: list[kept.AlternativeRecord]) -> tuple[Alternative, ...]:
    return tuple(
        Alternative(tuple(one.order), one.total, one.worst, one.note) for one in records
    )
