"""One thing said of a piece at the place it is about, and the remedies there are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sequencer.models import Json


@dataclass(frozen=True)
class Said:
    """One sentence, what it is about, and what helps."""

    text: str
    at: Json
    remedy: Json | None = None


def plan_remedy(label: str, wishes: Json, **more: Any) -> Json:
    """The plan made anew with these wishes; ``more``: the points of a line."""
    return {"label": label, "method": "POST", "path": "/api/plan",
            "body": {"wishes": wishes, **more}}  # fmt: skip


def order_remedy(label: str, order: list[str]) -> Json:
    """The prints laid in this order."""
    return {"label": label, "method": "PUT", "path": "/api/sequence", "body": {"order": order}}


def loop_remedy(label: str) -> Json:
    """The best order of which the last print meets the first."""
    return {"label": label, "method": "POST", "path": "/api/order",
            "body": {"wishes": {"loop": True}}}  # fmt: skip
