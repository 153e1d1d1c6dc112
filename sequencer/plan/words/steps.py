"""Sewing steps in words, made from the executable steps: one instruction for a run of a kind."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from itertools import groupby
from typing import Any

from sequencer.keys import key_letters, listed
from sequencer.models import Column, Instruction, Print
from sequencer.plan.asked import Request
from sequencer.plan.cloth import Finishing
from sequencer.plan.sewing import StripSet
from sequencer.plan.telling import clean, exact, tell_all
from sequencer.plan.words.finishing import count, say_binding, say_border

Steps = Sequence[Mapping[str, Any]]
PRESS = {
    "open": "Press the seams open.",
    "up": "Press all seams up, towards the top strip.",
    "down": "Press all seams down, towards the bottom strip.",
}


def say_steps(
    request: Request,
    columns: Sequence[Column],
    sets: Sequence[StripSet],
    steps: Steps,
    finished: Finishing,
    known: Mapping[str, Print],
    lacking: Sequence[str] = (),
) -> tuple[Instruction, ...]:
    """Instructions in the order of the work, in both units; together they cover every step once.
    Prints go by key letter and name.

    ``lacking``: prints whose scraps do not give all their strips.
    """
    speaker = _Speaker(request, columns, sets, finished, known, lacking)
    said, place = [], 0
    for kind, run in groupby(steps, key=speaker.kind):
        group = list(run)
        text = speaker.say(kind[0], group)
        own, inches, metric = tell_all(text, request.units)
        said.append(Instruction(kind[0], own, (place, place + len(group)), inches, metric))
        place += len(group)
    return tuple(said)


class _Speaker:
    """One method for each kind of step; lengths still exact, prints by name."""

    def __init__(
        self,
        request: Request,
        columns: Sequence[Column],
        sets: Sequence[StripSet],
        finished: Finishing,
        known: Mapping[str, Print],
        lacking: Sequence[str],
    ) -> None:
        self.request, self.columns, self.finished = request, columns, finished
        self.lacking = lacking
        self.sets = {one.name: one for one in sets}
        self.known, self.letters = known, key_letters(request.ids)
        self.show = exact
        self.upright = [key for key in request.ids if key in request.directional]
        self.set_of_column = {
            segment.column: (one, segment.shift) for one in sets for segment in one.segments
        }
        self.opened = {c + 1 for c, (_, shift) in self.set_of_column.items() if shift}

    def kind(self, step: Mapping[str, Any]) -> tuple[str, str]:
        """What a run of steps has in common: the op, and the set or border it belongs to."""
        op = step["op"]
        if op in {"cut_strip", "join_ends"}:
            return op, str(step["set"])
        if op == "cut_segment":
            return op, f"{step['set']} {step['looped']}"
        return (op, str(step.get("makes"))) if op not in {"open_seam", "stack"} else (op, "")

    def say(self, op: str, group: Steps) -> str:
        speak: Callable[[Steps], str] = getattr(self, f"_{op}")
        return speak(group)

    def name(self, print_id: str) -> str:
        """Key letter and name; a print that is not in the sequence goes by its name."""
        name = clean(self.known[print_id].name or print_id)
        return f"{self.letters[print_id]} {name}" if print_id in self.letters else name

    # ── strip sets ────────────────────────────────────────────────────────────────────────

    def _cut_strip(self, group: Steps) -> str:
        one = self.sets[group[0]["set"]]
        widths = sorted({step["width"] for step in group})
        wide = self.show(widths[0]) if len(widths) == 1 else (
            f"{self.show(widths[0])} to {self.show(widths[-1])} (each print's own, see the "
            "cutting list)"
        )  # fmt: skip
        lengths = sorted({step["length"] for step in group})
        pieces = "" if lengths == [one.length] else (
            f" Some are cut in pieces, {len(group)} in all."
        )
        if any(step["scrap"] is not None for step in group):
            pieces += " Cut each where the drawing of its scrap shows it."
        if self.lacking and one.name == "1":
            which = self.name(self.lacking[0]) if len(self.lacking) == 1 else (
                f"{len(self.lacking)} prints")  # fmt: skip
            pieces += f" Some strip of {which} is still lacking, see the cutting list."
        each = len(one.order) // len(self.request.ids)
        return (
            f"Strip set {one.name}: cut {count(len(one.order), 'strip')} {wide} wide and "
            f"{self.show(one.length)} long, {each} of each print.{pieces}"
            f"{self._upright(' Cut {} along the scrap only and mark the top edge of each.')} "
            "Pin a slip with the print's name to each."
        )

    def _join_ends(self, group: Steps) -> str:
        joins = sum(len(step["takes"]) - 1 for step in group)
        one = self.sets[group[0]["set"]]
        if group[0]["seam"] == "straight":
            how = (
                f"lay two ends right sides together, sew straight across with a "
                f"{self.show(self.request.seam)} seam"
            )
        else:
            how = (
                "lay one end across the other at a right angle, right sides together, sew from "
                f"corner to corner, trim to {self.show(self.request.seam)} beyond the seam"
            )
        return (
            f"Join the short pieces of strip set {one.name} end to end as its join table says, "
            f"the first piece at the end that is squared ({count(joins, 'join')}): {how}, press "
            "open. Each joined strip must reach "
            f"{self.show(one.length)}.{self._upright(' Turn no piece of {} round.')}"
        )

    def _upright(self, said: str) -> str:
        """A sentence about the directional prints, where there are any."""
        names = [self.name(key) for key in self.upright]
        if not names:
            return ""
        return said.format(listed(names, "or"))

    def _sew_strips(self, group: Steps) -> str:
        step = group[0]
        one = self.sets[step["set"]]
        n = len(self.request.ids)
        names = ", ".join(self.name(print_id) for print_id in one.order[:n])
        times = f", all of it {len(one.order) // n} times over" if len(one.order) > n else ""
        seam = self.request.seam
        across = sum((self.request.strips[p] for p in one.order), Fraction(0)) + 2 * seam
        return (
            f"Sew strip set {one.name} lengthwise with {self.show(seam)} seams, from top to "
            f"bottom: {names}{times}.{self._upright(' Keep every strip of {} the right way up.')} "
            f"Sew pairs, then pairs of pairs, each seam from the other "
            f"end than the last, so that the set stays straight. {PRESS[step['press']]} "
            f"It should measure {self.show(across)} across; if it is smaller, sew a scant seam, a "
            "few threads inside the allowance."
        )

    def _square_end(self, group: Steps) -> str:
        step = group[0]
        if step.get("again"):
            return (f"Square strip set {step['set']} again: {self.show(step['by'])} comes off, as "
                    "measured.")  # fmt: skip
        return (
            f"Trim one end of strip set {step['set']} square to its seams; {self.show(step['by'])} "
            f"is allowed for it.{self._again(step['set'])}"
        )

    def _again(self, name: str) -> str:
        """What is to spare for squaring again."""
        spare = self.sets[name].spare(self.request.squaring)
        if not spare:
            return " Nothing is to spare, so cut with care: it cannot be squared again."
        return f" If cuts begin to lean, square it again: {self.show(spare)} in all is to spare."

    def _close_loop(self, group: Steps) -> str:
        one = self.sets[group[0]["set"]]
        return (
            f"Bring the bottom strip of set {one.name} ({self.name(one.order[-1])}) up to its top "
            f"strip ({self.name(one.order[0])}), right sides together, and sew them along their "
            "whole length: a tube. Before sewing see that it is not twisted: the squared ends "
            f"lie at the same side, one on the other. {PRESS[one.press]} Leave the tube wrong side "
            "out and lay it flat, seams matched, for cutting."
        )

    def _cut_segment(self, group: Steps) -> str:
        looped = bool(group[0]["looped"])
        word = "ring" if looped else "segment"
        source = f"{'tube' if looped else 'strip set'} {group[0]['set']}"
        widths: dict[Fraction, list[int]] = {}
        for step in group:
            columns = widths.setdefault(step["width"], [])
            column = int(step["column"])
            if column not in columns:
                columns.append(column)
        counts = Counter(step["width"] for step in group)
        parts = [
            f"{counts[width]} at {self.show(width)} ({_columns(found)})"
            for width, found in widths.items()
        ]
        why = "" if len(widths) == 1 else (
            ", widest first, so that a slip still leaves cloth for a narrower one"
        )  # fmt: skip
        mark = " and an arrow towards the set's top" if looped else " at its top"
        return (
            f"Cut {count(len(group), word)} from {source}{why}: {'; '.join(parts)}. Mark each "
            f"with its column number{mark}, on the wrong side."
        )

    # ── columns ───────────────────────────────────────────────────────────────────────────

    def _open_seam(self, group: Steps) -> str:
        looped = len(group[0]["makes"]) == 1
        seams: dict[tuple[str, str], list[int]] = {}
        for step in group:
            column = int(step["column"]) - 1
            one, shift = self.set_of_column[column]
            seam = (one.order[shift - 1], one.order[shift])
            numbers = seams.setdefault(seam, [])
            if column + 1 not in numbers:
                numbers.append(column + 1)
        parts = [
            f"between {self.name(above)} and {self.name(below)} in {_columns(numbers)}"
            for (above, below), numbers in seams.items()
        ]
        if looped:
            first = "Open one seam in each ring with a seam ripper"
            last = "The print below the opened seam is the top of the column."
        else:
            first = "Open one seam in one segment of each of these columns with a seam ripper"
            last = "The part above the opened seam will go to the bottom of its column."
        return f"{first}: {'; '.join(parts)}. {last}"

    def _stack(self, group: Steps) -> str:
        numbers = [int(step["column"]) for step in group]
        which = "" if len(numbers) == len(self.columns) else f" ({_columns(numbers)})"
        moved = [step for step in group if step["column"] in self.opened]
        carry = (
            " The opened column's lower piece goes first, its upper piece last."
            if moved and self.request.method == "flat"
            else ""
        )
        presses = {step["press"] for step in group}
        press = PRESS[presses.pop()] if len(presses) == 1 else (
            "Press each column's new seams the way its others lie."
        )
        return (
            f"Sew the pieces of each column end to end, every one the right way up{which}."
            f"{carry} {press}"
        )

    def _sew_columns(self, group: Steps) -> str:
        request = self.request
        measure = (
            f"The centre should measure {self.show(request.width + 2 * request.seam)} x "
            f"{self.show(request.height + 2 * request.seam)} with its raw edges."
        )
        if len(group[0]["takes"]) == 1:
            return f"The single column is the centre. {measure}"
        nest = (
            "their seams are pressed opposite ways, so let them nest and pin them"
            if request.press == "nested"
            else "pin where seams should meet"
        )
        return (
            f"Lay out all {count(len(group[0]['takes']), 'column')} from left to right and "
            "compare them with the picture. Sew neighbours into pairs, then pairs into fours, "
            f"always with the top edges level: {nest}, at least once in every repeat. "
            f"Press the column seams open. {measure}"
        )

    def _add_border(self, group: Steps) -> str:
        return say_border(group[0], self.finished, self.request.seam, self.name)

    def _bind(self, _: Steps) -> str:
        return say_binding(self.finished, self.request.seam, self.name)


def _columns(numbers: Sequence[int]) -> str:
    return f"column{'' if len(numbers) == 1 else 's'} {listed(map(str, sorted(numbers)))}"
