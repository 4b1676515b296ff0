"""What may become of a job's colours, each change with a name, and how they are shown."""

from dataclasses import dataclass, replace
from functools import lru_cache

from app.filters.flats import Flats, Plain
from app.filters.holds import Hold
from app.pages.ink_totals import ink_totals
from app.pages.palettes import from_plain
from app.replay.job import Job, JobPage
from core.colours import Named, Palette, rgb_to_hex
from core.fault import Refused
from core.sheet import Rgb
from core.steps.fields import plain
from core.steps.step import Step
from core.steps.steplist import StepList

NAME_LENGTH = 100


@dataclass(frozen=True)
class PaletteEdit:
    """A palette after a change, what the change is called, and which colour is then chosen."""

    palette: Palette
    name: str
    chosen: int


@dataclass(frozen=True)
class Swatch:
    """A colour as it is shown: what it is called, and the ink that it lays.

    ``percent`` is the sum of the four inks, ``estimate`` says that no printer's profile gave
    it, and ``most`` what no colour should go beyond.
    """

    named: Named
    percent: float
    estimate: bool
    most: float

    @property
    def over(self) -> bool:
        """Whether it lays more ink than a colour should."""
        return self.percent > self.most

    @property
    def ink(self) -> str:
        """The sum of its inks in words.

        >>> Swatch(Named((0, 0, 51)), 280.0, True, 240.0).ink
        'ink about 280 %, over 240 %'
        """
        about = "about " if self.estimate else ""
        over = f", over {plain(self.most)} %" if self.over else ""
        return f"ink {about}{self.percent:.0f} %{over}"


@lru_cache(maxsize=4)
def swatches(palette: Palette, profile: bytes | None = None) -> tuple[Swatch, ...]:
    """The colours as they are shown; ``profile`` is the printer's, for CMYK. Refused if it is none.

    >>> [swatch.over for swatch in swatches(Palette("", (Named((0, 0, 51)),), 240))]
    [True]
    """
    totals = ink_totals([named.colour for named in palette.colours], profile)
    return tuple(
        Swatch(named, total.percent, total.estimate, palette.most_ink)
        for named, total in zip(palette.colours, totals, strict=True)
    )


def parse_colour(text: str) -> Named | None:
    """What was typed: ``#rrggbb`` and perhaps a name; None where it is no colour.

    >>> parse_colour("#000050 deep sea")
    Named(colour=(0, 0, 80), name='deep sea')
    """
    try:
        found = from_plain(text.strip().splitlines()[0] if text.strip() else "").colours
    except Refused:
        return None
    return replace(found[0], name=found[0].name[:NAME_LENGTH]) if found else None


def add(palette: Palette, named: Named) -> PaletteEdit:
    """A colour put at the end; one that is there already is chosen."""
    made = palette.with_all([named])
    place = made.place_of(named.colour)
    assert place is not None
    return PaletteEdit(made, f"add the colour {named.said}", place)


def rename(palette: Palette, place: int, name: str) -> PaletteEdit:
    """A colour called something else."""
    old = palette.colours[place]
    made = replace(old, name=" ".join(name.split())[:NAME_LENGTH])
    return PaletteEdit(palette.put(place, made), f"call {old.said} {made.said}", place)


def move(palette: Palette, place: int, to: int) -> PaletteEdit:
    """A colour put elsewhere in the order."""
    to = min(max(to, 0), len(palette.colours) - 1)
    said = palette.colours[place].said
    return PaletteEdit(palette.moved(place, to), f"move the colour {said}", to)


def delete(palette: Palette, place: int) -> PaletteEdit:
    """A colour taken out; what was coloured with it keeps it."""
    made = palette.without(place)
    chosen = max(min(place, len(made.colours) - 1), 0)
    return PaletteEdit(made, f"delete the colour {palette.colours[place].said}", chosen)


def take_in(palette: Palette, other: Palette) -> PaletteEdit:
    """The colours of another palette put behind those that are there."""
    made = palette.with_all(other.colours)
    name = palette.name or other.name
    return PaletteEdit(replace(made, name=name), f"take in the colours {other.name}".rstrip(),
                       min(len(palette.colours), max(len(made.colours) - 1, 0)))


def recoloured(job: Job, place: int, colour: Rgb) -> Job:
    """The job with a colour changed in its palette and wherever it was laid on a page."""
    old = job.palette.colours[place]
    pages = tuple(_page_recoloured(page, old.colour, colour) for page in job.pages)
    return replace(job, pages=pages,
                   palette=job.palette.put(place, replace(old, colour=colour)))


def recolour_name(palette: Palette, place: int, colour: Rgb) -> str:
    """What that change is called."""
    return f"change {palette.colours[place].said} to {rgb_to_hex(colour)}"


def list_recoloured(steps: StepList, old: Rgb, new: Rgb) -> StepList:
    """The list with one colour laid in place of another; itself where it does not lay that.

    >>> red = StepList("", (Hold(colour=(200, 0, 0)),))
    >>> list_recoloured(red, (200, 0, 0), (9, 9, 9)).steps[0].colour
    (9, 9, 9)
    """
    made = replace(steps, steps=tuple(_step_recoloured(step, old, new) for step in steps.steps))
    return steps if made == steps else made


def _page_recoloured(page: JobPage, old: Rgb, new: Rgb) -> JobPage:
    made = None if page.steps is None else list_recoloured(page.steps, old, new)
    return page if made is page.steps else replace(page, steps=made)


def _step_recoloured(step: Step, old: Rgb, new: Rgb) -> Step:
    if isinstance(step, Hold) and step.colour == old:
        return replace(step, colour=new)
    if isinstance(step, Flats):
        seeds = tuple((at, new if given == old else given) for at, given in step.seeds)
        fill = step.fill
        if isinstance(fill, Plain) and fill.colour == old:
            fill = Plain(colour=new)
        return replace(step, seeds=seeds, fill=fill)
    return step
