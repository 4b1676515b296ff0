"""The one table of all kinds of step."""

from app.filters.drop_specks import DropSpecks
from app.filters.even_light import EvenLight
from app.filters.flats import Flats
from app.filters.holds import Hold
from app.filters.keep_marks import KeepMarks
from app.filters.overrule import LetStand, TakeOut
from app.filters.straighten import Straighten
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.document import table_of_kinds
from core.steps.grey import Grey
from core.steps.lift import Lift
from core.steps.overlay import Lay
from core.steps.steplist import Nested
from core.steps.tone import Tone
from core.steps.turn import Turn

KINDS = table_of_kinds(
    Turn, Straighten, Crop, Grey, EvenLight, KeepMarks, LetStand, TakeOut, DropSpecks, Tone, Lift,
    BuildUp, Hold, Flats, Lay, Nested,
)
"""Whatever reads, shows or replays a step list is handed this."""
