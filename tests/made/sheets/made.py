"""Plans and prints of our own for the tests of the sheets: made by hand, every step spelled out."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np

from sequencer.models import (
    Column,
    FabricNeed,
    Instruction,
    Neighbours,
    PaletteColour,
    Plan,
    PlanWarning,
    Print,
    Sequence,
    StripCut,
    Swatch,
)

SEAM = Fraction(1, 4)
LONG_NAME = "Harbour lanterns on a rainy evening, third dye bath, the one with the salt crackle"


def made_prints(count: int, names: dict[int, str] | None = None) -> list[Print]:
    """Prints from dark blue to pale sand, with blotchy cloth."""
    return [_print(place, count, (names or {}).get(place)) for place in range(count)]


def _print(place: int, count: int, name: str | None) -> Print:
    share = place / max(1, count - 1)
    lab = (22 + 64 * share, 18 - 12 * share, -34 + 58 * share)
    rng = np.random.default_rng(place)
    from sequencer.colour import lab_to_srgb8

    base = lab_to_srgb8(lab).astype(float)
    blotch = np.kron(rng.normal(0, 16, (10, 16)), np.ones((16, 16)))[..., None]
    pixels = np.clip(base + blotch + rng.normal(0, 5, (160, 256, 3)), 0, 255).astype(np.uint8)
    return Print(
        id=f"cloth-{place + 1}", name=name or f"Dye bath {place + 1}", photo="table.jpg",
        outline=((0, 0), (256, 0), (256, 160), (0, 160)), mean_lab=lab,
        palette=(PaletteColour(lab, 0.7, "mid blue"), PaletteColour((80, 0, 20), 0.3, "pale gold")),
        size_in=(18.0, 9.0), swatch=Swatch(pixels, 32.0),
    )  # fmt: skip


def made_plan(
    prints: list[Print],
    offsets: list[int],
    widths: list[Fraction],
    *,
    repeats: int = 2,
    strip: Fraction = SEAM,
    method: str = "loop",
    border: bool = False,
    sets: int = 1,
) -> Plan:
    """A plan whose columns have these offsets and finished widths."""
    ids = tuple(one.id for one in prints)
    n = len(ids)
    columns = [Column(w + 2 * SEAM, w, o % n) for w, o in zip(widths, offsets, strict=True)]
    steps, said = _sew(ids, columns, repeats, strip + 2 * SEAM, method, sets)
    wide, high = sum(widths, Fraction(0)), strip * n * repeats
    length = sum((c.cut_width for c in columns), Fraction(0)) * repeats
    return Plan(
        prints=ids, seam=SEAM, repeats=repeats, rows=n * repeats,
        finished_strip=dict.fromkeys(ids, strip), columns=tuple(columns), centre=(wide, high),
        bordered=(wide + 2, high + 2) if border else (wide, high),
        fabric=tuple(
            FabricNeed(one, (StripCut(strip + 2 * SEAM, length / sets + Fraction(1, 2)),) * sets,
                       length + Fraction(1, 2) * sets, Fraction(18), max(Fraction(0), length - 18),
                       1 if length > 18 else 0)
            for one in ids
        ),
        layers={"column_seam_max": 6, "column_seam_typical": 4},
        seams={"count": n * sets + len(columns), "opened": len(columns), "length": length * n},
        border=None, binding=None, backing=None, batting=None,
        steps=tuple(steps), instructions=tuple(said), method=method,
        warnings=(PlanWarning("thick", "Crossings are six layers thick at this width."),),
    )  # fmt: skip


def _sew(
    ids: tuple[str, ...], columns: list[Column], repeats: int, cut: Fraction, method: str,
    sets: int,
) -> tuple[list[dict[str, Any]], list[Instruction]]:  # fmt: skip
    steps: list[dict[str, Any]] = []
    said: list[Instruction] = []
    sewn: dict[int, str] = {}
    for one in range(sets):
        mine = [place for place in range(len(columns)) if place % sets == one]
        length = sum((columns[p].cut_width for p in mine), Fraction(0)) * repeats + Fraction(1, 2)
        start = len(steps)
        strips = [f"s{one}-{k}" for k in range(len(ids))]
        steps += [{"op": "cut_strip", "print": ident, "width": cut, "length": length, "makes": s}
                  for ident, s in zip(ids, strips, strict=True)]  # fmt: skip
        said.append(_say("cut_strip", f"Cut one strip {length} in long of each print.",
                         start, steps))  # fmt: skip
        start = len(steps)
        steps.append({"op": "sew_strips", "takes": strips, "press": "open", "makes": f"set{one}"})
        said.append(_say("sew_strips", "Sew the strips together along their long sides in "
                         "sequence, and press every seam open.", start, steps))  # fmt: skip
        start = len(steps)
        steps.append({"op": "square_end", "takes": f"set{one}", "by": Fraction(1, 2),
                      "makes": f"set{one}-0"})  # fmt: skip
        said.append(_say("square_end", "Square the end of the strip set.", start, steps))
        here = f"set{one}-0"
        for place in mine:
            start = len(steps)
            segments = []
            for k in range(repeats):
                segments.append(f"seg{place}-{k}")
                after = f"set{one}-{place}-{k}"
                steps.append({"op": "cut_segment", "takes": here, "makes": segments[-1],
                              "width": columns[place].cut_width, "leaves": after})  # fmt: skip
                here = after
            said.append(_say("cut_segment", f"Column {place + 1}: cut {repeats} segments "
                             f"{columns[place].cut_width} in wide.", start, steps))  # fmt: skip
            steps.append({"op": "stack", "takes": segments, "press": "open",
                          "makes": f"tall{place}"})  # fmt: skip
            sewn[place] = _shift(steps, said, f"tall{place}", place, columns[place].offset,
                                 len(ids) * repeats, method)  # fmt: skip
    start = len(steps)
    steps.append({"op": "sew_columns", "takes": [sewn[p] for p in range(len(columns))],
                  "press": "open", "makes": "panel"})  # fmt: skip
    said.append(_say("sew_columns", "Sew the columns side by side, left to right, matching the "
                     "steps of the curve.", start, steps))  # fmt: skip
    start = len(steps)
    steps.append({"op": "bind", "takes": "panel", "print": ids[0], "cut_width": Fraction(9, 4),
                  "length": Fraction(60)})  # fmt: skip
    said.append(_say("bind", "Bind the edge.", start, steps))
    return steps, said


def _shift(
    steps: list[dict[str, Any]], said: list[Instruction], tall: str, place: int, offset: int,
    rows: int, method: str,
) -> str:  # fmt: skip
    start = len(steps)
    if method == "loop":
        steps.append({"op": "close_loop", "takes": tall, "makes": f"ring{place}"})
        steps.append({"op": "open_seam", "takes": f"ring{place}", "after": offset or rows,
                      "makes": [f"col{place}"]})  # fmt: skip
    elif offset:
        steps.append({"op": "open_seam", "takes": tall, "after": offset,
                      "makes": [f"up{place}", f"low{place}"]})  # fmt: skip
        steps.append({"op": "stack", "takes": [f"low{place}", f"up{place}"], "press": "open",
                      "makes": f"col{place}"})  # fmt: skip
    else:
        return tall
    said.append(_say("open_seam", f"Column {place + 1}: open the seam after patch {offset or rows}"
                     " from the top.", start, steps))  # fmt: skip
    return f"col{place}"


def _say(kind: str, text: str, start: int, steps: list[dict[str, Any]]) -> Instruction:
    return Instruction(kind, text, (start, len(steps)))


def made_sequence(prints: list[Print]) -> Sequence:
    """The prints as they come, as a loop."""
    ids = [one.id for one in prints]
    words = ("clear", "gentle", "blurs", "jumps")
    pairs = tuple(
        Neighbours(a, b, 10.0, 8.0, prints[(k + 1) % len(ids)].value - prints[k].value, 0.3,
                   words[k % 4], k % 3 > 0)
        for k, (a, b) in enumerate(zip(ids, [*ids[1:], ids[0]], strict=True))
    )  # fmt: skip
    return Sequence(tuple(ids), True, "even", 1.0, 1.0, "optimal", 1.0, 0.0, pairs)


def wave(columns: int) -> list[int]:
    """Offsets that climb and fall by ones."""
    top = 4
    return [top - abs(k % (2 * top) - top) for k in range(columns)]
