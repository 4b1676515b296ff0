"""Cells, means, filling."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy import ndimage

from app.filters.grid import beyond, box, cells_of, filled, pairs, within

grids = hnp.arrays(np.float64, hnp.array_shapes(min_dims=2, max_dims=2, max_side=9),
                   elements=st.floats(-50, 50))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize("shape", [(12, 18), (13, 17), (1, 1), (2, 40), (700, 9)])
@pytest.mark.parametrize("side", [1, 3, 6])
def test_cells_are_means_of_squares(shape, side, dtype):
    plane = np.random.default_rng(1).integers(0, np.iinfo(dtype).max, shape).astype(dtype)
    cells = cells_of(plane, side)
    assert cells.shape == (-(-shape[0] // side), -(-shape[1] // side))
    rows, columns = shape[0] // side, shape[1] // side
    inner = plane[: rows * side, : columns * side].astype(float)
    means = inner.reshape(rows, side, columns, side).mean(axis=(1, 3))
    assert np.abs(cells[:rows, :columns] - means).max(initial=0) <= 0.5


def test_cells_of_colour_are_those_of_its_channels():
    plane = np.random.default_rng(1).integers(0, 255, (20, 31, 3)).astype(np.uint8)
    for channel in range(3):
        alone = cells_of(np.ascontiguousarray(plane[..., channel]), 4)
        assert np.array_equal(cells_of(plane, 4)[..., channel], alone)


@given(grids, st.integers(1, 4))
def test_a_box_is_scipys_uniform_filter(grid, reach):
    expected = ndimage.uniform_filter(grid, 2 * reach + 1, mode="nearest")
    assert np.allclose(box(grid, reach), expected, atol=1e-9)


@given(grids)
def test_pairs_lose_nothing(grid):
    assert np.isclose(pairs(grid).sum(), grid.sum())


@given(grids, st.integers(0, 12))
def test_what_is_widened_can_be_cut_back(grid, reach):
    assert np.array_equal(within(beyond(grid, reach), grid), grid)


def test_a_slope_goes_on_beyond_the_edge():
    slope = np.add.outer(np.arange(6.0), 2 * np.arange(5.0))
    wide = beyond(slope, 3)
    assert np.allclose(np.diff(wide, axis=0), 1)
    assert np.allclose(np.diff(wide, axis=1), 2)


@given(grids, st.data())
def test_what_is_known_stays_and_holes_lie_between(grid, data):
    weight = data.draw(hnp.arrays(np.float64, grid.shape, elements=st.sampled_from([0, 0, 1, 4])))
    done = filled(grid * weight, weight)
    known = weight > 0
    assert np.allclose(done[known], grid[known])
    if known.any():
        assert done.min() >= grid[known].min() - 1e-9
        assert done.max() <= grid[known].max() + 1e-9
    else:
        assert not done.any()
