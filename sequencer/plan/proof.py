"""The best cutting of one print's scraps, proved by integer programming (HiGHS).

Whole numbers throughout: lengths are scaled to their common denominator. For strip k of a scrap
cut in way w and strip wanted s, ``x[k,s]`` says whether a piece is cut and ``y[k,s]`` how long it
is; ``u[w]`` chooses each scrap's way; ``v[s]`` is length that no scrap holds. A joined strip of
several pieces loses ``loss`` at each join but one:

    sum_k y[k,s] + v[s] >= length[s] + loss (pieces[s] - 1),   sum_s y[k,s] <= length[k] u[w(k)]

The shortage weighs more than all joins together, so the two are minimised one after the other.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from sequencer.plan.pieces import ABSENT, Cutting, Order, Piece, finish, lower_bound
from sequencer.plan.stock import Way

LARGEST_MODEL = 240
"""Pairs of a strip there is and a strip wanted; larger models stay with the quick answer."""
MOST_NODES = 200
"""Branch-and-bound nodes, a limit that a slow machine does not change."""


def prove_pieces(order: Order, quick: Cutting) -> Cutting:
    """The proved best cutting, or ``quick`` with the best bound known."""
    strips = [
        (scrap, way, number)
        for scrap, ways in enumerate(order.scraps)
        for way, one in enumerate(ways)
        for number in range(one.count)
    ]
    if not strips or len(strips) * len(order.lengths) > LARGEST_MODEL:
        return quick
    return _Model(order, strips).solve(quick)


class _Model:
    """The integer program; columns are numbered in the order they are added."""

    def __init__(self, order: Order, strips: list[tuple[int, int, int]]) -> None:
        import highspy

        self.order, self.strips = order, strips
        held = [order.scraps[scrap][way].length for scrap, way, _ in strips]
        lengths = [*order.lengths, order.loss, order.shortest, *held]
        self.unit = math.lcm(*(length.denominator for length in lengths))
        self.held = [self._whole(length) for length in held]
        self.wanted = [self._whole(length) for length in order.lengths]
        self.loss, self.shortest = self._whole(order.loss), self._whole(order.shortest)
        self.solver = highspy.Highs()
        self.solver.setOptionValue("output_flag", False)
        self.solver.setOptionValue("threads", 1)
        self.solver.setOptionValue("mip_max_nodes", MOST_NODES)
        self.solver.setOptionValue("mip_rel_gap", 0.0)
        self.solver.setOptionValue("mip_abs_gap", 0.5)
        self.integer = highspy.HighsVarType.kInteger
        self.solved = highspy.HighsModelStatus.kOptimal
        self._columns()
        self._rows()

    def _whole(self, length: Fraction) -> int:
        return int(length * self.unit)

    def _column(self, cost: int, upper: int) -> int:
        column = int(self.solver.getNumCol())
        self.solver.addCol(cost, 0, upper, 0, [], [])
        self.solver.changeColIntegrality(column, self.integer)
        return column

    def _columns(self) -> None:
        """A piece costs 1; a unit of shortage more than all pieces there could be."""
        wanted = range(len(self.wanted))
        heavy = len(self.strips) * len(self.wanted) + len(self.wanted) + 1
        self.way = [[self._column(0, 1) for _ in ways] for ways in self.order.scraps]
        self.cut = [[self._column(1, 1) for _ in wanted] for _ in self.strips]
        self.long = [[self._column(0, held) for _ in wanted] for held in self.held]
        self.lacks = [self._column(1, 1) for _ in wanted]
        self.lack = [self._column(heavy, self._most(length)) for length in self.wanted]

    def _most(self, length: int) -> int:
        return length + self.loss + self.shortest

    def _row(self, lower: float, upper: float, terms: list[tuple[int, int]]) -> None:
        columns = np.array([column for column, _ in terms], dtype=np.int32)
        weights = np.array([weight for _, weight in terms], dtype=float)
        self.solver.addRow(lower, upper, len(terms), columns, weights)

    def _rows(self) -> None:
        infinite = float("inf")
        for ways in self.way:
            if ways:
                self._row(0, 1, [(column, 1) for column in ways])
        for strip, (scrap, way, number) in enumerate(self.strips):
            held, long, cut = self.held[strip], self.long[strip], self.cut[strip]
            chosen = self.way[scrap][way]
            self._row(-infinite, 0, [*((y, 1) for y in long), (chosen, -held)])
            for wanted, (x, y) in enumerate(zip(cut, long, strict=True)):
                least = min(self.shortest, self.wanted[wanted])
                self._row(-infinite, 0, [(y, 1), (x, -min(held, self._most(self.wanted[wanted])))])
                self._row(0, infinite, [(y, 1), (x, -least)])
            if number:
                before = self.long[strip - 1]
                self._row(0, infinite, [*((y, 1) for y in before), *((y, -1) for y in long)])
        for wanted, length in enumerate(self.wanted):
            pieces = [self.cut[strip][wanted] for strip in range(len(self.strips))]
            pieces.append(self.lacks[wanted])
            inches = [self.long[strip][wanted] for strip in range(len(self.strips))]
            inches.append(self.lack[wanted])
            self._row(length - self.loss, infinite,
                      [*((y, 1) for y in inches), *((x, -self.loss) for x in pieces)])  # fmt: skip
            self._row(1, infinite, [(x, 1) for x in pieces])
            self._row(-infinite, 0, [(self.lack[wanted], 1),
                                     (self.lacks[wanted], -self._most(length))])  # fmt: skip
            least = min(self.shortest, length)
            self._row(0, infinite, [(self.lack[wanted], 1), (self.lacks[wanted], -least)])

    def solve(self, quick: Cutting) -> Cutting:
        """The solver's cutting if it is as good as ``quick`` or better."""
        self.solver.run()
        info = self.solver.getInfo()
        if info.primal_solution_status != 2:
            return quick
        found = self._cutting(proved=self.solver.getModelStatus() == self.solved)
        better = (found.short_by, found.joins) <= (quick.short_by, quick.joins)
        return found if better else quick

    def _cutting(self, proved: bool) -> Cutting:
        value = [round(x) for x in self.solver.getSolution().col_value]
        ways: list[Way | None] = []
        for scrap, columns in enumerate(self.way):
            chosen = [way for way, column in enumerate(columns) if value[column]]
            options = self.order.scraps[scrap]
            ways.append(options[chosen[0]] if chosen else options[0] if options else None)
        pieces = tuple(self._pieces(value, wanted) for wanted in range(len(self.wanted)))
        return finish(self.order, tuple(ways), pieces, lower_bound(self.order), proved)

    def _pieces(self, value: list[int], wanted: int) -> tuple[Piece, ...]:
        """The pieces of one strip; none longer than is needed."""
        found = [
            (scrap, number, value[self.long[strip][wanted]])
            for strip, (scrap, _, number) in enumerate(self.strips)
            if value[self.cut[strip][wanted]]
        ]
        if value[self.lacks[wanted]]:
            found.append((ABSENT, 0, value[self.lack[wanted]]))
        reach = sum(length for *_, length in found) - self.loss * (len(found) - 1)
        surplus, pieces = reach - self.wanted[wanted], []
        for scrap, number, length in found:
            least = self.shortest if len(found) > 1 else 0
            give = min(surplus, max(0, length - least)) if scrap != ABSENT else 0
            surplus -= give
            pieces.append(Piece(scrap, number, Fraction(length - give, self.unit)))
        return tuple(sorted(pieces, key=lambda piece: (-piece.length, piece.scrap, piece.strip)))
