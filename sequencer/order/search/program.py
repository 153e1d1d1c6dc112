"""A linear program that may become one in whole numbers, solved and bounded by HiGHS.

Both questions are put so: every print in a ring (``relaxation``), some of many (``selection``).
"""

from __future__ import annotations

import highspy
import numpy as np

from sequencer.quiet_highs import new_solver, restarted

INF = highspy.kHighsInf


class Program:
    """A model in HiGHS; weights are whole numbers, so a gap below one is none."""

    def __init__(self) -> None:
        self.solver = new_solver()
        self.whole = False

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

    @property
    def bound(self) -> float:
        """Objective of the last linear program."""
        return float(self.solver.getObjectiveValue())

    @property
    def whole_bound(self) -> float:
        """What the last integer program showed that no answer can beat; -inf if nothing."""
        bound = float(self.solver.getInfo().mip_dual_bound)
        return bound if np.isfinite(bound) else -np.inf
