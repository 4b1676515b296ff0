"""A bowl of light over a page: what a lamp's fall-off or a lens makes of even paper."""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from app.filters.grid import Places

_CLOSE = 0.025  # of the light: so near to a bowl is half trusted
_FITS = 4  # twice as many from half of what was seen
_CLEARLY = 0.98  # times as many squares must lie close to a bowl of a higher degree
_FITTED = 5_000  # squares are enough to fit a bowl to
_DEEPEST = 0.1  # of the usual light: a bowl goes no deeper

Cells = npt.NDArray[np.float32]


def fit_bowl(tone: Cells, places: Places, *, lighter: bool = False) -> Cells:
    """The bowl of light that most of the squares at some places lie close to.

    A polynomial of the light or of its logarithm, of degree 2, or of 4 about the page's middle
    where that is clearly closer: a lamp's fall-off is nearer to the one, a lens's to the other.
    ``lighter`` starts from the lighter half of them, so that a shadow over less than half of
    the page bends nothing.
    """
    places = places[:: max(1, len(places) // _FITTED)]
    down, across = (np.linspace(-1, 1, side) * side / max(tone.shape) for side in tone.shape)
    row, column = np.divmod(places, tone.shape[1])
    terms, seen = np.stack([*_terms(down[row], across[column])]), tone.ravel()[places]
    usual = float(np.median(seen))
    trust = (seen >= usual).astype(np.float64) if lighter else np.ones(len(seen))
    fits = [
        (trusted * worth, course is not seen, made)
        for course in (seen, np.exp(seen - usual))
        for many, worth in ((len(terms) - 1, 1.0), (len(terms), _CLEARLY))
        for made, trusted in [_robust(terms[:many], course, trust)]
    ]
    _, is_light, made = max(fits, key=lambda fit: fit[0])
    bowl = np.zeros(tone.shape, np.float32)
    each = _terms(*(side.astype(np.float32) for side in (down[:, None], across)))
    for share, term in zip(made, each, strict=False):
        bowl += np.float32(share) * term
    if is_light:
        np.log(np.maximum(bowl, np.float32(_DEEPEST), out=bowl), out=bowl)
        bowl += np.float32(usual)
    return bowl


def _terms(
    y: npt.NDArray[np.floating], x: npt.NDArray[np.floating],
) -> Iterator[npt.NDArray[np.floating]]:
    """What a bowl is a sum of; the last alone is of degree 4."""
    yield from (np.ones_like(x), x, y, x * x, x * y, y * y)
    yield np.square(x * x + y * y)


def _robust(
    terms: npt.NDArray[np.float64], seen: npt.NDArray[np.floating],
    trust: npt.NDArray[np.float64],
) -> tuple[npt.NDArray[np.float64], float]:
    """How much of each term (terms, many) comes close to what was seen, and to how much of it."""
    made: npt.NDArray[np.float64] = np.zeros(len(terms))
    for _ in range(_FITS if trust.all() else 2 * _FITS):
        weighed = terms * trust
        made = np.asarray(np.linalg.lstsq(weighed @ terms.T, weighed @ seen, rcond=1e-10)[0], float)
        off = np.asarray(made @ terms - seen, np.float64) / (_CLOSE)
        trust = 1.0 / (1.0 + off * off) ** 2
    return made, float(trust.sum())
