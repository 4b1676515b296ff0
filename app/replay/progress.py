"""How a run goes: pages, megapixels a second, time left."""

from collections.abc import Callable
from dataclasses import dataclass, field

from app.replay.run import Outcome


@dataclass
class Tally:
    """Counts what has ended; ``clock`` gives seconds and is handed in.

    >>> Tally(50, clock=lambda: 0.0).figures()
    '0 of 50 pages'
    """

    total: int
    clock: Callable[[], float]
    done: int = 0
    unchanged: int = 0
    failed: int = 0
    pixels: int = 0
    _begun: float = field(init=False)

    def __post_init__(self) -> None:
        self._begun = self.clock()

    def ended(self, outcome: Outcome) -> None:
        """Count one page's end."""
        self.failed += outcome.failed
        self.unchanged += outcome.unchanged
        if outcome.done is not None:
            self.done += 1
            self.pixels += outcome.done.pixels

    @property
    def ends(self) -> int:
        """Pages that have ended, one way or the other."""
        return self.done + self.unchanged + self.failed

    @property
    def seconds(self) -> float:
        """How long the run has taken."""
        return self.clock() - self._begun

    @property
    def rate(self) -> float:
        """Megapixels a second, 0 while nothing is done."""
        return self.pixels / 1e6 / self.seconds if self.pixels and self.seconds > 0 else 0.0

    @property
    def left(self) -> float | None:
        """Seconds that the other pages will take, if they are like those that were worked on."""
        worked = self.done + self.failed
        if not worked:
            return None
        return (self.total - self.ends) * self.seconds / worked

    def summary(self) -> dict[str, float | int | None]:
        """The figures for a program."""
        return {
            "pages": self.total, "finished": self.done, "unchanged": self.unchanged,
            "failed": self.failed, "megapixels_per_second": round(self.rate, 2),
            "seconds_left": None if self.left is None else round(self.left, 1),
        }

    def figures(self) -> str:
        """The figures in a few words."""
        said = [f"{self.done + self.unchanged} of {self.total} pages"]
        if self.failed:
            said.append(f"{self.failed} failed")
        if self.rate >= 0.1:
            said.append(f"{self.rate:{'.0f' if self.rate >= 10 else '.2g'}} Mpx/s")
        if self.left and self.ends < self.total:
            said.append(f"{minutes(self.left)} left")
        return ", ".join(said)


def minutes(seconds: float) -> str:
    """A length of time as people say it.

    >>> minutes(4.2), minutes(75), minutes(7300)
    ('4 s', '1 min 15 s', '2 h 1 min')
    """
    whole = max(round(seconds), 1)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"
