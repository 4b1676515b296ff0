"""A bowl of light over a page: what a lamp's fall-off or a lens makes of even paper."""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from app.filters.grid import Places

_CLOSE = 0.025  # of the light: so near to a bowl is half trusted
_FITS = 4  # twice as many from half of what was seen
_CLEARLY = 0.98  # times as many squares must lie close to a bowl of a higher degree
_FITTED = 5_000  # squares are enough to fit a bowl to
_LIT = (0.5, 0.2)  # of the squares, the lightest, that may all lie in the light
_DEPTHS = (0.08, 0.16, 0.32)  # of a shadow, as a logarithm, to begin with
_SHALLOWEST = 0.05
_SHADED = (0.2, 0.8)  # of the squares at least, and at most, lie in a shadow that bends a bowl
_PLAINLY = 1.25  # times as many lie close to a bowl and to a shadow on it as to any bowl alone
_DEEPEST = 0.1  # of the usual light: a bowl goes no deeper

Cells = npt.NDArray[np.float32]


def fit_bowl(tone: Cells, places: Places, *, lighter: bool = False) -> Cells:
    """The bowl of light that most of the squares at some places lie close to.

    A polynomial of the light or of its logarithm, of degree 2, or of 4 about the page's middle
    where that is clearly closer: a lamp's fall-off is nearer to the one, a lens's to the other.
    With ``lighter`` a shadow bends nothing: it starts from the lighter half of them, and where far
    more lie close to one of two levels than to any bowl, it is the upper one.
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
    trusted, is_light, made = max(fits, key=lambda fit: fit[0])
    if lighter:
        many, upper = _upper(terms[:-1], seen)
        if many > _PLAINLY * trusted:
            is_light, made = False, upper
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


def _upper(
    terms: npt.NDArray[np.float64], seen: npt.NDArray[np.floating],
) -> tuple[float, npt.NDArray[np.float64]]:
    """What lies in the light where the rest lies in a shadow of one depth, and how much it is.

    How many are close to either level, none where one of them has too few; then as ``_robust``.
    """
    flat = (float(np.quantile(seen, 1 - share / 2)) for share in _LIT)
    fits = [_two_levels(terms, seen, tone, depth) for tone in flat for depth in _DEPTHS]
    return max(fits, key=lambda fit: fit[0])


def _two_levels(
    terms: npt.NDArray[np.float64], seen: npt.NDArray[np.floating], flat: float, depth: float,
) -> tuple[float, npt.NDArray[np.float64]]:
    """A bowl and the depth of a shadow on it, fitted together from a flat tone and a depth."""
    made = np.eye(1, len(terms))[0] * flat
    shaded, trusted = np.zeros(len(seen), np.bool_), 0.0
    for _ in range(2 * _FITS):
        below = made @ terms - seen
        shaded = below > depth / 2
        off = (below - depth * shaded) / _CLOSE
        trust = 1.0 / (1.0 + off * off) ** 2
        trusted = float(trust.sum())
        both = np.vstack([terms, -shaded.astype(np.float64)])
        weighed = both * trust
        *found, depth = np.linalg.lstsq(weighed @ both.T, weighed @ seen, rcond=1e-10)[0]
        made, depth = np.asarray(found), max(float(depth), _SHALLOWEST)
    least, most = _SHADED
    return trusted if least < shaded.mean() < most else 0.0, made
