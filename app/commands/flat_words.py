"""What ``stetline flats`` and ``realign`` may be told; like the command line, nothing heavy."""

import argparse

from app.commands.print_words import AddReading, Commands, file_name


def add_colour_forms(command: argparse.ArgumentParser) -> None:
    """What goes out of a page on which colour has begun."""
    forms = command.add_argument_group("colour, for pages whose own steps lay it")
    forms.add_argument("--holds", action="store_true",
                       help="layered: ink that was held in a colour lies in a layer of its own")
    forms.add_argument("--flats-form", choices=("png", "tiff"), default="png",
                       help="flats alone, indexed where they have no more than 256 colours")


def add_flats(
    commands: Commands, add_reading: AddReading,
) -> None:
    """``stetline flats``."""
    flats = commands.add_parser(
        "flats", help="lay a flat colour beneath every area that the line encloses",
        description="Writes each page in layers (lines, colour, paper), and its flats alone as "
                    "PNG and TIFF: a start for a colourist.",
    )
    flats.add_argument("pages", type=file_name, nargs="+", metavar="PAGE_OR_FOLDER")
    flats.add_argument("--list", type=file_name, required=True, metavar="LIST.json",
                       help="the step list that makes the line art")
    flats.add_argument("--gap", type=float, default=1.0, metavar="MM",
                       help="gaps in the line up to this are shut (default: 1)")
    flats.add_argument("--trap", type=float, default=0.3, metavar="MM",
                       help="how far a flat spreads beneath the ink (default: to the middle of "
                       "the line, at most 0.3)")
    flats.add_argument("--smallest", type=float, default=1.0, metavar="MM2",
                       help="smaller areas join a neighbour (default: 1)")
    flats.add_argument("--layered-form", choices=("ora", "folder"), default="ora",
                       help="an OpenRaster file (default) or a folder of numbered PNGs")
    flats.add_argument("--into", type=file_name, required=True, metavar="FOLDER")
    flats.add_argument("--again", action="store_true",
                       help="do every page, also those that are unchanged since they were done")
    flats.add_argument("--quiet", action="store_true", help="say only what went wrong")
    flats.add_argument("--json", action="store_true", help="say one JSON object a line")
    add_reading(flats)
    flats.set_defaults(task="flats")


def add_realign(commands: Commands) -> None:
    """``stetline realign``."""
    realign = commands.add_parser(
        "realign", help="let a page's holds, flats and other places follow it to another scan",
        description="Finds the drawing of one page of a job on another scan of the same sheet, "
                    "and moves what the page has of its own there. The job as it was is kept "
                    "beside it; no scan is touched.",
    )
    realign.add_argument("job", type=file_name, metavar="JOB.json")
    realign.add_argument("page", metavar="PAGE",
                         help="its number in the job, from 1, or the name of its file, with or "
                              "without its ending")
    realign.add_argument("scan", type=file_name, metavar="NEW_SCAN")
    realign.add_argument("--number", type=int, default=0, metavar="N",
                         help="which page of the new file it is, where that has several")
    realign.set_defaults(task="realign")
