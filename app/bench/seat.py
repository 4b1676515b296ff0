"""What the parts of the wiring may ask of each other."""

from typing import Protocol

from app.bench.background import Workers
from app.bench.engine import Engine
from app.bench.showing import Known
from app.bench.state.desk import Desk
from app.bench.state.places import Places
from app.bench.views.window import Window
from app.replay.job import Job


class Seat(Protocol):
    """The bench as the parts see it: the desk, what is known, and how either changes."""

    window: Window
    workers: Workers
    engine: Engine
    known: Known
    desk: Desk
    places: Places

    def become(self, desk: Desk) -> None:
        """The desk is now this; everything is shown anew, and a changed job is kept."""

    def show_list(self, *, moving: bool = False) -> None:
        """Show the list in hand, and what it makes of the page."""

    def show_commands(self) -> None:
        """Show which commands can be done now, and how the page is looked at."""

    def go_to(self, number: int) -> None:
        """Take a page in hand."""

    def keep_job(self, job: Job) -> None:
        """Have the job kept on disk."""
