"""What each kind of step is for, in a few words: for those who choose one from the menu."""

PURPOSES = {
    "turn": "by quarters",
    "straighten": "level a slanted scan",
    "crop": "cut the scan's edges",
    "grey": "what each colour counts; pencil drops out",
    "even light": "lamp, gutter and the paper's tint go",
    "keep marks": "clear all that was not drawn",
    "let stand": "bring back by hand",
    "take out": "clear by hand",
    "drop specks": "dust and hairs go",
    "tone": "black point, white point, middle",
    "lift": "darkness becomes ink on nothing",
    "build up": "the line laid over itself",
    "hold": "give ink a colour",
    "flats": "areas of colour beneath the line",
    "overlay": "how lines and colour lie on paper",
}
"""By the kind's name; a list that is put in has its own name."""
