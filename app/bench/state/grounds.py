"""What may lie under the ink on the screen."""

from app.bench.state.picture import Ground
from core.sheet import WHITE

PAPER_WHITE = Ground("paper white", (WHITE,))

GROUNDS = (
    PAPER_WHITE,
    Ground("mid grey", ((128, 128, 128),)),
    Ground("strong colour", ((242, 106, 46),)),
    Ground("black", ((0, 0, 0),)),
    Ground("see-through", ((236, 234, 228), (203, 199, 190))),
)
"""In the order in which one key goes round them; halos and paper left over show on the darker."""


def next_ground(ground: Ground) -> Ground:
    """The one after it, round and round; white after a colour of the person's own.

    >>> next_ground(GROUNDS[-1]).name
    'paper white'
    """
    if ground not in GROUNDS:
        return PAPER_WHITE
    return GROUNDS[(GROUNDS.index(ground) + 1) % len(GROUNDS)]
