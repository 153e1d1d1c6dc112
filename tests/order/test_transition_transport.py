"""Partial optimal transport against general-purpose solvers and a closed form."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.stats import wasserstein_distance

from sequencer.colour.transport import MASS, partial_transport, whole_masses

SHARES = (0.1, 0.25, 0.5, 0.8, 1.0)


def palettes(random, pairs, colours):
    shares = random.random((pairs, colours)) * (random.random((pairs, colours)) > 0.3)
    shares[:, 0] += 0.01
    return whole_masses(shares)


def rows_and_columns(m, n):
    """Constraint matrix of the transport polytope: what leaves each colour, what reaches each."""
    leaves = np.kron(np.eye(m), np.ones(n))
    reaches = np.kron(np.ones(m), np.eye(n))
    return np.vstack([leaves, reaches])


@given(st.integers(0, 10**6), st.integers(1, 6), st.integers(1, 6))
@settings(max_examples=40, deadline=None)
def test_curve_is_the_linear_programme_s_optimum(seed, m, n):
    """scipy's HiGHS solves each share's linear programme on its own."""
    random = np.random.default_rng(seed)
    supply, demand = palettes(random, 1, m), palettes(random, 1, n)
    cost = np.round(random.random((1, m, n)) * 60, 1)
    found = partial_transport(cost, supply, demand, SHARES)
    limits = np.concatenate([supply[0], demand[0]]) / MASS
    for share, price in zip(SHARES, found.curve[0], strict=True):
        best = linprog(cost.ravel(), A_ub=rows_and_columns(m, n), b_ub=limits,
                       A_eq=np.ones((1, m * n)), b_eq=[share])
        assert price == pytest.approx(best.fun, abs=1e-6)


@given(st.integers(0, 10**6), st.floats(1, 40))
@settings(max_examples=40, deadline=None)
def test_match_within_a_ceiling_is_the_linear_programme_s(seed, ceiling):
    random = np.random.default_rng(seed)
    supply, demand = palettes(random, 1, 5), palettes(random, 1, 4)
    cost = np.round(random.random((1, 5, 4)) * 60, 1)
    ceiling = round(ceiling, 2) + 0.005  # never a tie with a cost
    found = partial_transport(cost, supply, demand, ceilings=(ceiling,), with_flow=True)
    limits = np.concatenate([supply[0], demand[0]]) / MASS
    best = linprog((cost - ceiling).ravel(), A_ub=rows_and_columns(5, 4), b_ub=limits)
    assert ((cost - ceiling) * found.flow).sum() == pytest.approx(best.fun, abs=1e-6)
    assert found.moved[0, 0] == pytest.approx(found.flow.sum(), abs=1e-9)
    assert (cost[found.flow > 0] <= ceiling).all()
    assert (found.flow.sum(axis=2) * MASS <= supply + 1e-3).all()
    assert (found.flow.sum(axis=1) * MASS <= demand + 1e-3).all()


def test_whole_transport_on_a_line_is_the_wasserstein_distance():
    """On a line the earth mover's distance has a closed form (scipy.stats, from the CDFs)."""
    random = np.random.default_rng(4)
    for _ in range(20):
        a, b = random.random(6) * 100, random.random(5) * 100
        supply, demand = palettes(random, 1, 6), palettes(random, 1, 5)
        found = partial_transport(np.abs(a[:, None] - b[None])[None], supply, demand)
        expected = wasserstein_distance(a, b, supply[0], demand[0])
        assert found.curve[0, 0] == pytest.approx(expected, abs=1e-3)


def test_many_pairs_at_once_are_the_pairs_one_by_one():
    random = np.random.default_rng(7)
    supply, demand = palettes(random, 9000, 4), palettes(random, 9000, 4)
    cost = random.random((9000, 4, 4)) * 60
    together = partial_transport(cost, supply, demand, SHARES, ceilings=(9, 15))
    for k in [0, 1, 4095, 4096, 8191, 8999]:
        alone = partial_transport(cost[k : k + 1], supply[k : k + 1], demand[k : k + 1], SHARES,
                                  ceilings=(9, 15))
        assert (alone.curve[0] == together.curve[k]).all()
        assert (alone.moved[0] == together.moved[k]).all()


@given(st.integers(0, 10**6))
@settings(max_examples=30, deadline=None)
def test_curve_is_convex_symmetric_and_blind_to_the_order_of_colours(seed):
    random = np.random.default_rng(seed)
    supply, demand = palettes(random, 1, 5), palettes(random, 1, 5)
    cost = random.random((1, 5, 5)) * 60
    grid = tuple(np.linspace(0.05, 1, 20))
    curve = partial_transport(cost, supply, demand, grid).curve[0]
    assert (np.diff(curve, n=2) >= -1e-6).all()
    back = partial_transport(cost.transpose(0, 2, 1), demand, supply, grid).curve[0]
    assert (back == curve).all()
    mixed = random.permutation(5)
    other = partial_transport(cost[:, mixed], supply[:, mixed], demand, grid).curve[0]
    assert (other == curve).all()


def test_masses_add_up_exactly_and_bad_shares_are_refused():
    masses = whole_masses([[1, 1, 1], [0.7, 0.2, 0.1], [5, 0, 0]])
    assert (masses.sum(axis=1) == MASS).all()
    for bad in ([[0, 0]], [[1, -0.1]], [[np.nan, 1]]):
        with pytest.raises(ValueError, match="shares"):
            whole_masses(bad)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -1.0])
def test_distances_that_are_none_are_refused(bad):
    cost = np.array([[[1.0, bad], [2.0, 3.0]]])
    masses = whole_masses([[0.5, 0.5]])
    with pytest.raises(ValueError, match="finite and not negative"):
        partial_transport(cost, masses, masses)
