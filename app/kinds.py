"""The one table of all kinds of step."""

from app.filters.even_light import EvenLight
from app.filters.straighten import Straighten
from core.steps.build_up import BuildUp
from core.steps.crop import Crop
from core.steps.document import table_of_kinds
from core.steps.grey import Grey
from core.steps.lift import Lift
from core.steps.steplist import Nested
from core.steps.tone import Tone
from core.steps.turn import Turn

KINDS = table_of_kinds(Turn, Straighten, Crop, Grey, EvenLight, Tone, Lift, BuildUp, Nested)
"""Whatever reads, shows or replays a step list is handed this."""
