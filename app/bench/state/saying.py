"""Faults as the window says them: where the command line has an option, it has a command."""

from collections.abc import Iterable
from dataclasses import replace

from app.pages.resolution import GIVE_IT, GIVE_SIZE
from core.fault import Fault
from core.steps.outdated import RENEW

BRING_UP = "Bring it up to date"
"""What is offered where a list or a job is of an older program."""

_NAMED = 3  # places with the same fault that are each named
_HERE = "say it with “Say its resolution or size…”"
_INSTEAD = {
    GIVE_IT: _HERE, GIVE_SIZE: f"{_HERE}, as it was scanned",
    RENEW: f"“{BRING_UP}” opens it with the same settings: look at a page before it is printed",
    "or give the job a list": "or apply another page's to it",
    "--again writes over it": "export again and choose “Write over them”",
}


def in_window(fault: Fault) -> Fault:
    """The fault with a remedy that can be followed here.

    >>> print(in_window(Fault("the file does not say its resolution", "p.png", GIVE_IT)))
    p.png: the file does not say its resolution; say it with “Say its resolution or size…”.
    """
    remedy = fault.remedy
    for option, here in _INSTEAD.items():
        remedy = remedy.replace(option, here)
    if " --" in remedy:  # what only the command line can do
        remedy += ", on the command line"
    return replace(fault, remedy=remedy)


def told(faults: Iterable[Fault]) -> tuple[str, ...]:
    """Faults in lines, each once; what is wrong at many places is one line that counts them.

    >>> told(Fault("it is blank", f"{n}.png", "scan it") for n in "12345")
    ('1.png, 2.png, 3.png and 2 more: it is blank; scan it.',)
    """
    places: dict[Fault, list[str]] = {}
    for fault in dict.fromkeys(map(in_window, faults)):
        places.setdefault(replace(fault, where=""), []).append(fault.where)
    lines: list[str] = []
    for fault, where in places.items():
        more = len(where) - _NAMED
        named = [f"{', '.join(where[:_NAMED])} and {more} more"] if more > 0 else where
        lines += [str(replace(fault, where=name)) for name in named]
    return tuple(lines)


def asks_for_size(said: str) -> bool:
    """Whether what was said of a page is that its resolution or size must be given.

    >>> asks_for_size(str(in_window(Fault("the file does not say its resolution", "", GIVE_IT))))
    True
    """
    return _HERE in said
