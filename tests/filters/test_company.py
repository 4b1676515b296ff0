"""How many of its kind a speck has about it, against pairs that SciPy finds."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from app.filters import company as company_of
from app.filters.company import company


def some_specks(count: int, size_mm: float = 60.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places in mm, darkness and area of specks of every kind."""
    chance = np.random.default_rng(count)
    return (chance.uniform(0, size_mm, (count, 2)), chance.uniform(0.02, 0.9, count),
            chance.uniform(0.003, 0.3, count))


def alike_by_pairs(place: np.ndarray, dark: np.ndarray, area: np.ndarray) -> np.ndarray:
    """The same by pairs: cells of a mm in a square about each, kinds no more than a step apart."""
    pairs = cKDTree(np.floor(place)).query_pairs(
        company_of._ABOUT + 0.5, p=np.inf, output_type="ndarray")
    steps = np.floor(np.stack(
        [np.log(dark) / company_of._DARKER, np.log(area) / company_of._LARGER], axis=1))
    alike = pairs[(np.abs(steps[pairs[:, 0]] - steps[pairs[:, 1]]) <= 1).all(axis=1)]
    return np.bincount(alike.ravel(), minlength=len(place))


@pytest.mark.parametrize("count", [1, 2, 40, 700])
def test_company_is_what_scipy_counts_by_pairs(count):
    specks = some_specks(count)
    nowhere = np.zeros(count, np.bool_)
    assert company(*specks, nowhere, 0.0) == pytest.approx(alike_by_pairs(*specks))


def test_what_lies_all_over_bare_paper_is_no_company():
    place, _, _ = some_specks(3000)
    kind = np.full(len(place), 0.1)
    anywhere = company(place, kind, kind, np.ones(len(place), np.bool_), 3600.0)
    assert company(place, kind, kind, np.zeros(len(place), np.bool_), 3600.0).min() > 50
    assert np.median(anywhere) < 30


def test_no_specks_have_no_company():
    none = np.zeros(0)
    assert len(company(np.zeros((0, 2)), none, none, none > 0, 100.0)) == 0
