"""The same design at another size: what survives adds up, and the answers follow the figures."""

from __future__ import annotations

import math
from fractions import Fraction

from sequencer.models import Plan, Print
from sequencer.plan import plan_columns
from sequencer.plan.scaling import scale

F = Fraction


def ring(n: int, size: tuple[float, float] | None = None) -> list[Print]:
    """Prints round a hue circle, light to dark and back."""
    turn = [2 * math.pi * i / n for i in range(n)]
    return [
        Print(
            f"p{i}", f"Print {i}", "", (),
            (55 - 30 * math.cos(t), 30 * math.sin(t), 25 * math.cos(t)), (), size_in=size,
        )
        for i, t in enumerate(turn)
    ]  # fmt: skip


def planned(n: int, **options: object) -> tuple[Plan, list[Print]]:
    prints = ring(n)
    return plan_columns(prints, [p.id for p in prints], **options), prints  # type: ignore[arg-type]


def test_twice_the_size_is_the_same_picture() -> None:
    plan, prints = planned(12, size="11x9")
    scaled = scale(plan, prints, "22x18")
    assert scaled.survives["columns_kept"]
    assert [c.finished_width for c in scaled.plan.columns] == [
        2 * c.finished_width for c in plan.columns
    ]
    assert set(scaled.plan.finished_strip.values()) == {F(1, 2)}
    assert scaled.look.verdict == "yes"
    assert scaled.look.figures["mean_delta_e"] == 0
    assert scaled.worth.figures["area"] == 4
