"""What the commands may be told about printing; like the command line it imports nothing heavy."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

# argparse has no public name for it
Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"  # noqa: SLF001
AddReading = Callable[[argparse.ArgumentParser], None]


def file_name(said: str) -> Path:
    """A file or folder that was named: nothing is no name, though the system takes it for here."""
    if not said:
        raise argparse.ArgumentTypeError("an empty name names no file")
    return Path(said)


def add_proof(
    commands: Commands, add_reading: AddReading,
) -> None:
    """``stetline proof``."""
    proof = commands.add_parser(
        "proof", help="say what would print that should not, at the size it will be printed",
        epilog="Exit status 1 where something would print that should not. The printer's own "
               "figures go before these; this is a screen proof, not a contract proof.",
    )
    proof.add_argument("pages", type=file_name, nargs="+", metavar="PAGE_OR_FOLDER",
                       help="scans, and folders of scans, in the order of the book")
    proof.add_argument("--list", type=file_name, required=True, metavar="LIST.json",
                       help="the step list that makes the line art")
    proof.add_argument(
        "--press", default="coated", metavar="NAME",
        help="coated (default), uncoated, newsprint, photocopy, stencil duplicator, inkjet, or a "
             "file that stetline strip wrote",
    )
    proof.add_argument("--json", action="store_true", help="the same for programs")
    proof.add_argument("--proof-sheet", type=file_name, metavar="FILE.html",
                       help="also write a proof sheet, one file that holds all pages")
    proof.add_argument("--contact", action="store_true",
                       help="small pages on the proof sheet, not at print size")
    proof.add_argument("--book", type=file_name, metavar="FILE.pdf",
                       help="also write all pages as one PDF for the press")
    _add_size(proof)
    add_print_forms(proof, sized=False)
    add_reading(proof)
    proof.set_defaults(task="proof")


def add_strip(commands: Commands) -> None:
    """``stetline strip``."""
    strip = commands.add_parser(
        "strip", help="write a test strip for a press, or what was read off one",
    )
    strip.add_argument("out", type=file_name, metavar="OUT",
                       help="a .pdf or .tif for the strip, a .json for a press")
    strip.add_argument("--press", default="coated", metavar="NAME",
                       help="the press whose gain and ruling are taken")
    strip.add_argument(
        "--held", type=float, nargs=4, metavar=("FAINTEST", "EVEN", "LINE", "REVERSED"),
        help="with a .json: the palest veil of which anything printed and the palest that "
             "printed evenly, in percent; the finest unbroken black and white line, in points",
    )
    strip.set_defaults(task="strip")


def add_print_forms(command: argparse.ArgumentParser, *, sized: bool = True) -> None:
    """The forms for print: bitmap and PDF; ``sized`` where nothing else says their width."""
    forms = command.add_argument_group("bitmap and pdf")
    if sized:
        forms.add_argument("--print-width", type=float, metavar="MM",
                           help="how wide the whole scan is printed (default: its own size)")
    forms.add_argument("--print-form", choices=("grey", "1-bit"), default="grey",
                       help="graded tones (default), or black and white pixels alone")
    forms.add_argument("--print-ppi", type=float, default=1200, metavar="N",
                       help="pixels per inch of 1-bit pages in print (default: 1200)")
    forms.add_argument("--screen", metavar="LPI[@ANGLE][line]",
                       help="screen 1-bit pages, as 85@45 or 60@30line; or diffuse; without it "
                            "half full is black")
    forms.add_argument("--pdf-standard", choices=("x4", "x1a"), default="x4",
                       help="PDF/X-4 (default) or PDF/X-1a:2003")
    forms.add_argument("--profile", type=file_name, metavar="FILE.icc",
                       help="the printer's own profile, for the PDF")
    forms.add_argument("--bleed", type=float, metavar="MM",
                       help="bleed of PDF pages (default: 3, or an eighth of an inch)")
    forms.add_argument("--no-marks", action="store_true", help="PDF pages without crop marks")
    _add_trim(command)


def _add_size(proof: argparse.ArgumentParser) -> None:
    size = proof.add_mutually_exclusive_group()
    size.add_argument("--width", type=float, metavar="MM",
                      help="how wide the whole scan is printed (default: its own size)")
    size.add_argument("--height", type=float, metavar="MM", help="or how high")


def _add_trim(command: argparse.ArgumentParser) -> None:
    trim = command.add_argument_group("trim")
    trim.add_argument("--trim", choices=("borders", "corners", "sheet"),
                      help="what the trim is centred on: panel borders, corner marks, the sheet "
                           "(default: the sheet, where a size is given; else no trim)")
    trim.add_argument("--trim-size", metavar="SIZE",
                      help="the finished page: A5, comic, 170x240mm, 6x9in (default: as found)")
    trim.add_argument("--nudge", type=float, nargs=2, default=(0.0, 0.0),
                      metavar=("RIGHT", "DOWN"), help="move the trim, in mm in print")
    trim.add_argument("--mirrored", action="store_true",
                      help="every second page is a left one: nudge it the other way")
