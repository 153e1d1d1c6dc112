"""Small integer programs for HiGHS, silent and the same on every run."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

MOST_NODES = 400
"""Branch-and-bound nodes, a limit that a slow machine does not change."""

Terms = Sequence[tuple[int, int]]


class Program:
    """min cost·x over whole x ≥ 0 under rows of whole coefficients."""

    def __init__(self) -> None:
        self.costs: list[int] = []
        self.upper: list[int] = []
        self.rows: list[tuple[float, float, Terms]] = []

    def add(self, cost: int, upper: int) -> int:
        """A new variable from 0 to ``upper``; its number."""
        self.costs.append(cost)
        self.upper.append(upper)
        return len(self.costs) - 1

    def at_most(self, limit: int, terms: Terms) -> None:
        """Σ coefficient × variable ≤ limit."""
        self.rows.append((-np.inf, limit, terms))

    def at_least(self, limit: int, terms: Terms) -> None:
        """Σ coefficient × variable ≥ limit."""
        self.rows.append((limit, np.inf, terms))

    def solve(self) -> tuple[list[int], bool]:
        """The values found, and whether they are proved best (empty if none was found)."""
        import highspy

        from sequencer.quiet_highs import new_solver

        solver = new_solver()
        for option, value in (("mip_rel_gap", 0.0), ("mip_abs_gap", 0.5),
                              ("mip_max_nodes", MOST_NODES)):
            solver.setOptionValue(option, value)
        size = len(self.costs)
        solver.addVars(size, np.zeros(size), np.array(self.upper, dtype=float))
        every = np.arange(size, dtype=np.int32)
        solver.changeColsCost(size, every, np.array(self.costs, dtype=float))
        solver.changeColsIntegrality(size, every, np.full(size, highspy.HighsVarType.kInteger))
        for lower, upper, terms in self.rows:
            columns = np.array([column for column, _ in terms], dtype=np.int32)
            weights = np.array([weight for _, weight in terms], dtype=float)
            solver.addRow(lower, upper, len(terms), columns, weights)
        solver.run()
        proved = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
        found = [round(x) for x in solver.getSolution().col_value]
        return found, proved and len(found) == size
