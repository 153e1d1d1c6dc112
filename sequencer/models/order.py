"""Graph → sequence → contrast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sequencer.models.plainly import Json, maybe, plain


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
            "cost": maybe(self.cost),
            "delta_e": maybe(self.delta_e),
            "value_step": maybe(self.value_step),
            "shared": maybe(self.shared),
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
            "total": maybe(self.total),
            "worst": maybe(self.worst),
            "note": self.note,
        }


@dataclass(frozen=True)
class Sequence:
    """Prints in order, with the proof.

    ``total`` and ``lower_bound`` are in the aim's own unit (even: sum of squared costs; total:
    sum; worst: the sum, among the orders whose largest cost is least). ``worst``: the largest
    neighbour cost. ``status``: optimal or bounded. ``gap``: (total - lower_bound) / total; for aim
    worst the same of the largest cost, where that is more.
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
            "total": maybe(self.total),
            "worst": maybe(self.worst),
            "proof": {
                "status": self.status,
                "lower_bound": maybe(self.lower_bound),
                "gap": maybe(self.gap),
            },
            "neighbours": [pair.to_json() for pair in self.neighbours],
            "left_out": list(self.left_out),
            "alternatives": [other.to_json() for other in self.alternatives],
            "seconds": round(self.seconds, 3),
            "notes": list(self.notes),
            "sizes": [one.to_json() for one in self.sizes],
            "confidence": dict(self.confidence),
            "best": list(self.best),
            "percent": maybe(self.percent),
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
            "value_range": maybe(self.value_range),
            "bridges": [dict(bridge) for bridge in self.bridges],
            "vision": plain(self.vision),
            "looks_lighter": dict(self.looks_lighter),
            "hand_over": [dict(one) for one in self.hand_over],
        }
