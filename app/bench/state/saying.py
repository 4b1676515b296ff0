"""Faults as the window says them: where the command line has an option, it has a command."""

from dataclasses import replace

from app.pages.resolution import GIVE_IT, GIVE_SIZE
from core.fault import Fault
from core.steps.outdated import RENEW

BRING_UP = "Bring it up to date"
"""What is offered where a list or a job is of an older program."""

_HERE = "say it with “Say its resolution or size…”"
_INSTEAD = {
    GIVE_IT: _HERE, GIVE_SIZE: f"{_HERE}, as it was scanned",
    RENEW: f"“{BRING_UP}” opens it with the same settings: look at a page before it is printed",
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


def asks_for_size(said: str) -> bool:
    """Whether what was said of a page is that its resolution or size must be given.

    >>> asks_for_size(str(in_window(Fault("the file does not say its resolution", "", GIVE_IT))))
    True
    """
    return _HERE in said
