"""The colours of the window: a desk in daylight, and the same desk in the evening."""

from dataclasses import dataclass

from core.light import srgb_to_linear


@dataclass(frozen=True)
class Theme:
    """Colours as ``#rrggbb``. Text is ``ink`` or ``quiet``; ``edge`` bounds controls."""

    name: str
    mount: str
    desk: str
    card: str
    field: str
    ink: str
    quiet: str
    rule: str
    edge: str
    accent: str
    on_accent: str


LIGHT = Theme(
    "light", mount="#c4beb4", desk="#dfdbd3", card="#f5f2ec", field="#fdfcf9", ink="#211d19",
    quiet="#5d564c", rule="#cbc4b8", edge="#7c7366", accent="#96401f", on_accent="#ffffff",
)
DARK = Theme(
    "dark", mount="#1b1917", desk="#262320", card="#322e2a", field="#3b3732", ink="#efe9df",
    quiet="#b9b0a3", rule="#453f39", edge="#8f8678", accent="#eb9467", on_accent="#211a15",
)


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours, 1-21: WCAG 2.2, "contrast ratio".

    >>> contrast("#000000", "#ffffff")
    21.0
    """
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return round((light + 0.05) / (dark + 0.05), 6)


def _luminance(colour: str) -> float:
    red, green, blue = srgb_to_linear([byte / 255 for byte in bytes.fromhex(colour[1:])])
    return float(0.2126 * red + 0.7152 * green + 0.0722 * blue)
