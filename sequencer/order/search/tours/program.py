"""A linear program that may become one in whole numbers, solved and bounded by HiGHS.

Both questions are put so: every print in a ring (``relaxation``), some of many (``selection``).
What its linear program proves is worked out again here, exactly, from the duals alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import highspy
import numpy as np
from scipy.sparse import csc_matrix

from sequencer.order.graph.costs import Floats, Ints
from sequencer.order.search.tours.subtours import Mask
from sequencer.quiet_highs import new_solver, restarted

INF = highspy.kHighsInf

_OFF = 1e-6
_BITS = 50
"""Of the 53 that a float holds exactly; the rest is room for sums of four."""


class Dual(NamedTuple):
    """A bound, the duals of all rows and the reduced costs of all columns, exact to the last bit.

    No answer weighs less than ``bound``, none that uses a column it need not less than ``bound`` +
    its price, and none that does without one (of at most 1) less than ``bound`` − its price.
    """

    bound: float
    rows: Floats
    prices: Floats


class Program:
    """A model in HiGHS; weights are whole numbers, so a gap below one is none."""

    def __init__(self) -> None:
        self.solver = new_solver()
        self.whole = False

    def add_columns(self, cost: Floats, low: Floats, ones: Sequence[tuple[Ints, Ints]]) -> None:
        """As many columns, from ``low`` to 1, with a one at every (rows, columns) of ``ones``."""
        row, column = (np.concatenate(part) for part in zip(*ones, strict=True))
        order = np.argsort(column, kind="stable")
        starts = np.searchsorted(column[order], np.arange(len(cost))).astype(np.int32)
        self.solver.addCols(len(cost), cost, low, np.ones(len(cost)), len(row), starts,
                            row[order].astype(np.int32), np.ones(len(row)))

    def in_whole_numbers(self) -> None:
        """From now on every column is a whole number."""
        self.whole = True
        m = self.solver.getNumCol()
        whole = np.full(m, int(highspy.HighsVarType.kInteger), dtype=np.uint8)
        self.solver.changeColsIntegrality(m, np.arange(m, dtype=np.int32), whole)
        self.solver.setOptionValue("mip_rel_gap", 0.0)
        self.solver.setOptionValue("mip_abs_gap", 0.99)
        self.solver.setOptionValue("mip_heuristic_effort", 0.0)

    def solve(self, seconds: float, below: float = INF) -> bool | None:
        """True: solved; False: no answer (below this weight) over these edges; None: no time."""
        if self.whole:
            self.solver = restarted(self.solver)
        self.solver.setOptionValue("objective_bound", below)
        self.solver.setOptionValue("time_limit", self.solver.getRunTime() + max(seconds, 0.01))
        self.solver.run()
        status = self.solver.getModelStatus()
        if status == highspy.HighsModelStatus.kOptimal:
            return True
        none = (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kObjectiveBound)
        return False if status in none else None

    def dual(self) -> Dual:
        """What the last linear program proves, whatever the solver's tolerances.

        By weak duality any duals prove a bound. These are rounded to multiples of a power of two
        so coarse that every sum of them with our whole numbers is exact in floats.
        """
        lp = self.solver.getLp()
        low, high = np.array(lp.row_lower_), np.array(lp.row_upper_)
        cost, rows = np.array(lp.col_cost_), np.array(self.solver.getSolution().row_dual)
        rows[np.isinf(np.where(rows > 0, low, high))] = 0.0
        most = np.abs(np.where(rows > 0, low, high), where=rows != 0, out=np.zeros(len(rows)))
        sums = float((np.abs(rows) * np.maximum(most, 2)).sum() + np.abs(cost).max(initial=1.0))
        grain = 2.0 ** (math.ceil(math.log2(sums)) + 1 - _BITS)
        rows = np.rint(rows / grain) * grain
        matrix = lp.a_matrix_
        shape = (len(rows), len(cost))
        columns = csc_matrix((matrix.value_, matrix.index_, matrix.start_), shape=shape)
        prices = cost - columns.T @ rows
        ends = np.where(rows > 0, low, np.where(rows < 0, high, 0.0))
        least = np.where(prices > 0, np.array(lp.col_lower_), np.array(lp.col_upper_))
        return Dual(math.fsum([*(rows * ends), *(prices * least)]), rows, prices)

    @staticmethod
    def pair_prices(weights: Floats | Ints, node: Floats, cuts: Sequence[Mask], y: Floats
                    ) -> Floats:
        """(n, n) weights less the duals of both ends and of every cut that parts the two."""
        price = weights - node[:, None] - node[None, :]
        used = np.flatnonzero(y)
        if len(used):
            inside: Floats = np.array([cuts[i] for i in used.tolist()], dtype=np.float64).T
            weighted = inside * y[used]
            alone = weighted.sum(axis=1)
            price -= alone[:, None] + alone[None, :] - 2 * (weighted @ inside.T)
        return np.asarray(price)

    @property
    def whole_bound(self) -> float:
        """What the last integer program showed that no answer can beat; -inf if nothing.

        Taken on trust, up to the next whole number but for what the solver may be off.
        """
        bound = float(self.solver.getInfo().mip_dual_bound)
        off = min(0.5, _OFF * max(1.0, abs(bound) * 1e-3))
        return float(np.ceil(bound - off)) if np.isfinite(bound) else -np.inf
