"""HiGHS without a word on standard output, where a face may be printing one JSON document."""

from __future__ import annotations

import os
import sys

import highspy

_greeted: list[bool] = []


def new_solver() -> highspy.Highs:
    """A silent, single-threaded solver: the same run every time.

    The first solver of a process greets on standard output before it can be told not to, so
    standard output is turned aside for that moment.
    """
    solver = highspy.Highs() if _greeted else _first_solver()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    return solver


def restarted(solver: highspy.Highs) -> highspy.Highs:
    """The same model and options in a solver that has not run yet.

    HiGHS counts a time limit from a solver's first run on for linear programs, but (1.16) from each
    run's own start for integer ones: "so far and 5 s more" let those run over. A first run is the
    same both ways, whatever the version.
    """
    again = new_solver()
    again.passOptions(solver.getOptions())
    again.passModel(solver.getModel())
    return again


def _first_solver() -> highspy.Highs:
    _greeted.append(True)
    sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # no standard output at all: nothing to protect
        return highspy.Highs()
    try:
        with open(os.devnull, "w") as nowhere:
            os.dup2(nowhere.fileno(), 1)
        return highspy.Highs()
    finally:
        os.dup2(kept, 1)
        os.close(kept)
