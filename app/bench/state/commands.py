"""Everything that can be done, declared once: menus, shortcuts, tooltips and the keys sheet."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Command:
    """``name`` is what is reported; ``keys`` are written as the toolkit reads them.

    ``tip`` says what it does to the drawing. ``needs`` names what must be there for it:
    "page", "list", "step", "undo", "redo" or nothing. ``checked`` commands stay on or off.
    """

    name: str
    menu: str
    text: str
    keys: tuple[str, ...] = ()
    tip: str = ""
    needs: str = ""
    checked: bool = False
    rule_above: bool = False


MENUS = ("&Job", "&Edit", "&Steps", "&View", "&Help")

COMMANDS = (
    Command("open", "&Job", "&Open pages…", ("Ctrl+O",), "Put scans on the rack."),
    Command("open folder", "&Job", "Open a &folder…", ("Ctrl+Shift+O",),
            "Put all scans of a folder on the rack."),
    Command("samples", "&Job", "Open the sample pages", (),
            "Put the demonstration pages on the rack."),
    Command("last job", "&Job", "&Bring the last job back", (),
            "Put the pages and lists on the rack that lay there when the bench was last closed."),
    Command("resolution", "&Job", "Say resolution or si&ze…", (),
            "Say how large the chosen pages were scanned, where their files do not.", "page",
            rule_above=True),
    Command("moved", "&Job", "Say &where the scan is…", (),
            "Find a scan that was moved; those that lay beside it are looked for there too.",
            "page"),
    Command("remove", "&Job", "&Take off the rack", ("Ctrl+Delete",),
            "Take the chosen pages off the rack; the scans stay where they are.", "page"),
    Command("export", "&Job", "&Export…", ("Ctrl+E",),
            "Write the chosen pages as line art, for the printer, in layers or for the web.",
            "page", rule_above=True),
    Command("quit", "&Job", "&Quit", ("Ctrl+Q",), "Close the bench; the job is kept.",
            rule_above=True),
    Command("undo", "&Edit", "&Undo", ("Ctrl+Z",), "Undo the last change.", "undo"),
    Command("redo", "&Edit", "&Redo", ("Ctrl+Shift+Z", "Ctrl+Y"), "Do the undone change again.",
            "redo"),
    Command("next page", "&Edit", "&Next page", ("PgDown",), "Go on to the next page.", "page",
            rule_above=True),
    Command("previous page", "&Edit", "&Previous page", ("PgUp",), "Go back to the page before.",
            "page"),
    Command("turn left", "&Edit", "Turn page left", ("Ctrl+L",),
            "Turn the chosen pages a quarter anticlockwise.", "page", rule_above=True),
    Command("turn right", "&Edit", "Turn page right", ("Ctrl+R",),
            "Turn the chosen pages a quarter clockwise.", "page"),
    Command("keep", "&Steps", "&Keep the proposed list", ("Ctrl+K",),
            "Make the proposed steps this page's own.", "page"),
    Command("propose", "&Steps", "&Propose a list again", (),
            "Read the page and propose steps for it anew.", "page"),
    Command("apply next", "&Steps", "Apply to the &next page", ("Ctrl+Return",),
            "Give the next page this list, and go there.", "list", rule_above=True),
    Command("apply chosen", "&Steps", "Apply to the &chosen pages", ("Ctrl+Shift+Return",),
            "Give all chosen pages this list.", "list"),
    Command("apply all", "&Steps", "Apply to &all pages", ("Ctrl+Alt+Return",),
            "Give every page on the rack this list.", "list"),
    Command("open list", "&Steps", "&Open a step list…", ("Ctrl+Shift+L",),
            "Give this page a list from a file.", "page", rule_above=True),
    Command("insert list", "&Steps", "&Insert a step list…", (),
            "Put another list into this one, as one step.", "page"),
    Command("save list", "&Steps", "&Save the step list…", ("Ctrl+S",),
            "Write the list to a file, to be used on other pages and other days.", "list"),
    Command("into drawer", "&Steps", "Keep the list in the &drawer", ("Ctrl+Alt+S",),
            "Keep the list on this computer under its name.", "list", rule_above=True),
    Command("from drawer", "&Steps", "Take a list &from the drawer…", ("Ctrl+Alt+O",),
            "Give this page a list that was kept in the drawer.", "page"),
    Command("out of drawer", "&Steps", "Throw a list out of the drawer…", (),
            "Forget a list that was kept in the drawer; pages that have it keep it."),
    Command("pack drawer", "&Steps", "Write the drawer to a zip…", (),
            "Carry all lists of the drawer to another computer."),
    Command("unpack drawer", "&Steps", "Read a zip into the drawer…", (),
            "Put the lists of a zip into the drawer."),
    Command("pick white", "&Steps", "Pick the &white point from the page", ("W",),
            "What you then click on, and all that is lighter, becomes bare ground.", "page",
            rule_above=True),
    Command("pick black", "&Steps", "Pick the &black point from the page", ("B",),
            "What you then click on, and all that is darker, becomes full ink.", "page"),
    Command("switch", "&Steps", "Switch the step on or off", ("Ctrl+Space",),
            "Leave the step out without losing its numbers.", "step", rule_above=True),
    Command("step up", "&Steps", "Move the step up", ("Alt+Up",), "Do the step earlier.", "step"),
    Command("step down", "&Steps", "Move the step down", ("Alt+Down",), "Do the step later.",
            "step"),
    Command("duplicate", "&Steps", "Duplicate the step", ("Ctrl+D",),
            "Do the step twice.", "step"),
    Command("note", "&Steps", "Note on the step…", (), "Write beside the step why it is there.",
            "step"),
    Command("delete", "&Steps", "Delete the step", ("Delete",), "Take the step out of the list.",
            "step"),
    Command("steps", "&View", "S&teps", ("F2",), "What is done to the page, step by step."),
    Command("fit", "&View", "&Fit the page", ("Ctrl+0", "0"), "Show the whole page.", "page",
            rule_above=True),
    Command("one", "&View", "&Pixel for pixel", ("Ctrl+1", "1"),
            "Show each pixel of the scan as one pixel of the screen.", "page"),
    Command("print size", "&View", "P&rint size", ("Ctrl+2", "2"),
            "A millimetre of the sheet is a millimetre on the screen, once the screen is measured.",
            "page"),
    Command("calibrate", "&View", "&Measure the screen…", (),
            "Hold a bank card to the screen, so that print size is true to the millimetre."),
    Command("in", "&View", "Zoom &in", ("Ctrl++", "Ctrl+=", "+"), "Go nearer.", "page"),
    Command("out", "&View", "Zoom &out", ("Ctrl+-", "-"), "Step back.", "page"),
    Command("split", "&View", "&Before beside after", ("S",),
            "Show the scan left of the divider and the line art right of it.", "page",
            checked=True, rule_above=True),
    Command("flip", "&View", "F&lip before and after", ("F",),
            "Show only the scan, or only the line art.", "page"),
    Command("ground", "&View", "Next &ground", ("G",),
            "Lay the line on white, mid grey, a strong colour, black, then on nothing.", "page",
            rule_above=True),
    Command("log", "&View", "&Histogram by its logarithm", ("H",),
            "Without it the paper hides all ink in the histogram.", checked=True),
    Command("light", "&View", "By daylight", (), "A light desk.", checked=True, rule_above=True),
    Command("dark", "&View", "By evening", (), "A dark desk.", checked=True),
    Command("system", "&View", "As the system has it", (), "Light or dark as the system is.",
            checked=True),
    Command("keys", "&Help", "&Keys", ("F1",), "All keys on one sheet."),
)

BY_NAME = {command.name: command for command in COMMANDS}


def in_menu(menu: str) -> tuple[Command, ...]:
    """The commands of one menu, in order.

    >>> in_menu("&Help")[0].name
    'keys'
    """
    return tuple(command for command in COMMANDS if command.menu == menu)
