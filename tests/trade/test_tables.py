"""The tables of the fit against the library whose functions they stand for."""

import numpy as np
import pytest
from scipy.special import log_ndtr, ndtr, ndtri

from service.trade.strength.fit import tables

Z = np.random.default_rng(1).uniform(-39, 12, 20_000)


def test_the_mass_below_and_its_density_are_the_normal_ones():
    mass, density = tables.mass_and_density(Z)
    assert np.abs(mass - ndtr(Z)).max() < 2e-7
    assert np.abs(density - np.exp(-Z * Z / 2) / np.sqrt(2 * np.pi)).max() < 3e-4
    assert tables.mass_below(Z) == pytest.approx(mass, abs=1e-15)


def test_the_log_of_the_mass_below_keeps_its_digits_far_into_the_tail():
    assert np.abs(tables.log_mass_below(Z) - log_ndtr(Z)).max() < 4e-7


def test_the_density_over_the_mass_below_is_that_of_the_library():
    expected = np.exp(-Z * Z / 2 - log_ndtr(Z)) / np.sqrt(2 * np.pi)
    assert np.abs(tables.density_over_mass(Z) - expected).max() < 1e-5


def test_a_point_is_near_enough_to_place_a_node():
    shares = np.linspace(0.01, 0.99, 5001)
    assert np.abs(tables.rough_point(shares) - ndtri(shares)).max() < 1e-4


def test_the_light_exponential_is_the_exponential():
    x = np.linspace(-80, 0, 5001)
    assert tables.light_exp(x) == pytest.approx(np.exp(x), rel=1e-5)


@pytest.mark.parametrize("x", [-1e300, -np.inf, 1e300, np.inf])
def test_beyond_its_ends_a_table_says_nothing_or_all(x):
    assert float(tables.mass_below(np.array([x]))[0]) == pytest.approx(float(x > 0), abs=1e-15)
