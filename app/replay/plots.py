"""Small plots as inline SVG: one value a page, over the order of the pages."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

_WIDTH, _HEIGHT = 720, 168
_LEFT, _RIGHT, _TOP, _BOTTOM = 72, 16, 16, 32
_MOST_DOTS = 1000  # from here on the line alone is drawn


@dataclass(frozen=True)
class Plot:
    """What is plotted: ``values`` one a page, or None; pages that are ``flagged`` stand out.

    Values run from 0 to ``most``. ``least`` is the smallest span of the upright axis, so that
    noise does not look like news.
    """

    title: str
    unit: str
    values: Sequence[float | None]
    flagged: Sequence[bool]
    names: Sequence[str]
    most: float
    least: float

    def svg(self) -> str:
        """The plot; empty where there is no value.

        >>> Plot("Paper", "", [None], [False], ["a"], 255, 16).svg()
        ''
        """
        known = [value for value in self.values if value is not None]
        if not known:
            return ""
        low, high = min(known), max(known)
        if high - low < self.least:
            low = min(max((low + high - self.least) / 2, 0.0), self.most - self.least)
            high = low + self.least
        title = escape(self.title)
        return "".join([
            f'<svg viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" aria-label="{title}">',
            f"<title>{title}</title>", *self._axes(low, high), *self._line(low, high),
            *self._dots(low, high), "</svg>",
        ])

    def _x(self, place: int) -> float:
        span = max(len(self.values) - 1, 1)
        return round(_LEFT + (_WIDTH - _LEFT - _RIGHT) * place / span, 1)

    @staticmethod
    def _y(value: float, low: float, high: float) -> float:
        return round(_TOP + (_HEIGHT - _TOP - _BOTTOM) * (high - value) / (high - low), 1)

    def _axes(self, low: float, high: float) -> list[str]:
        drawn = []
        for share in (0.0, 0.5, 1.0):
            value = low + (high - low) * share
            y = self._y(value, low, high)
            drawn.append(f'<path class="grid" d="M{_LEFT} {y}H{_WIDTH - _RIGHT}"/>')
            said = f"{value:.4g}{escape(self.unit)}"
            drawn.append(f'<text x="{_LEFT - 12}" y="{y + 4}" text-anchor="end">{said}</text>')
        last, foot, right = len(self.values), _HEIGHT - 8, _WIDTH - _RIGHT
        drawn.append(f'<text x="{_LEFT}" y="{foot}">page 1</text>')
        if last > 1:
            drawn.append(f'<text x="{right}" y="{foot}" text-anchor="end">page {last}</text>')
        return drawn

    def _line(self, low: float, high: float) -> list[str]:
        points = [
            f"{self._x(place)},{self._y(value, low, high)}"
            for place, value in enumerate(self.values) if value is not None
        ]
        return [f'<polyline points="{" ".join(points)}"/>']

    def _dots(self, low: float, high: float) -> list[str]:
        drawn = []
        for place, value in enumerate(self.values):
            flagged = self.flagged[place]
            if value is None or (len(self.values) > _MOST_DOTS and not flagged):
                continue
            x, y = self._x(place), self._y(value, low, high)
            said = f"<title>{escape(self.names[place])}: {value:.3g}{escape(self.unit)}</title>"
            if flagged:  # another shape, not another colour alone
                triangle = f"M{x} {y - 6}L{x + 6} {y + 5}H{x - 6}Z"
                drawn.append(f'<path class="flagged" d="{triangle}">{said}</path>')
            else:
                drawn.append(f'<circle cx="{x}" cy="{y}" r="3">{said}</circle>')
        return drawn
