"""The pages of the sketchbook: each scene is a function from chance to a drawing."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sample_pages.scenes.boat import boat
from sample_pages.scenes.lantern import lantern
from sample_pages.scenes.marsh import marsh
from sample_pages.scenes.mill import mill
from sample_pages.scenes.notes import notes
from sample_pages.scenes.wheel import wheel
from sample_pages.stroke import Drawing

Scene = Callable[[np.random.Generator], Drawing]

SCENES: dict[str, Scene] = {
    "lantern": lantern,
    "marsh-path": marsh,
    "keepers-notes": notes,
    "rowing-boat": boat,
    "sluice-wheel": wheel,
    "mill-across-the-water": mill,
}
