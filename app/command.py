"""The command line: ``stetline suggest | replay | measure | show``.

Nothing heavy is imported until a command has been understood, so that help comes at once.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

WRONG_REQUEST, STOPPED = 2, 130
RENDITIONS = ("line", "print", "layered", "web")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is 0 all done, 1 a page failed, 2 a wrong request."""
    parser = build_parser()
    try:
        request = parser.parse_args(arguments)
    except SystemExit as end:  # argparse has said what is wrong
        return end.code if isinstance(end.code, int) else WRONG_REQUEST
    if request.task is None:
        parser.print_help(sys.stderr)
        return WRONG_REQUEST
    from app.tasks import run_task  # noqa: PLC0415 - help must not wait for it

    try:
        return run_task(request)
    except KeyboardInterrupt:
        sys.stderr.write("stopped: what was finished stands, nothing is half-written\n")
        return STOPPED


def build_parser() -> argparse.ArgumentParser:
    """The commands and what each may be told."""
    parser = argparse.ArgumentParser(
        prog="stetline",
        description="Isolate ink from paper: a raw scan goes in, line art on nothing comes out.",
        epilog="Scans are only ever read. stetline COMMAND --help tells more.",
    )
    parser.set_defaults(task=None)
    parser.add_argument("--version", action="version", version=f"stetline {_version()}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    _add_suggest(commands)
    _add_replay(commands)
    _add_measure(commands)
    _add_show(commands)
    return parser


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415 - 20 ms

    try:
        return version("stetline")
    except PackageNotFoundError:
        return "(not installed)"


def _add_suggest(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    suggest = commands.add_parser(
        "suggest", help="read a page, write a step list fitted to it, and say why",
    )
    suggest.add_argument("page", type=Path, metavar="PAGE")
    suggest.add_argument("--out", type=Path, required=True, metavar="LIST.json")
    suggest.add_argument("--name", help="what the list is called (default: as its file)")
    _add_reading(suggest)
    suggest.set_defaults(task="suggest")


def _add_replay(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    replay = commands.add_parser("replay", help="do a step list over pages and write them out")
    replay.add_argument("list", type=Path, metavar="LIST.json")
    replay.add_argument("pages", type=Path, nargs="+", metavar="PAGE_OR_FOLDER")
    replay.add_argument("--into", type=Path, required=True, metavar="FOLDER")
    replay.add_argument(
        "--rendition", action="append", choices=RENDITIONS,
        help="what to write; may be given several times (default: line)",
    )
    _add_line_forms(replay)
    _add_web_forms(replay)
    replay.add_argument("--quiet", action="store_true", help="say only what went wrong")
    _add_reading(replay)
    replay.set_defaults(task="replay")


def _add_line_forms(replay: argparse.ArgumentParser) -> None:
    forms = replay.add_argument_group("line, print and layered")
    forms.add_argument(
        "--line-form", choices=("rgba", "grey-alpha", "indexed", "tiff"), default="rgba",
        help="PNG as RGBA (default), as grey and alpha, or as 256 alphas of one ink; or TIFF",
    )
    forms.add_argument(
        "--bits", type=int, choices=(8, 16), help="depth of the line (default: as scanned)",
    )
    forms.add_argument(
        "--layered-form", choices=("ora", "folder"), default="ora",
        help="an OpenRaster file (default) or a folder of numbered PNGs",
    )
    forms.add_argument(
        "--with-steps", action="store_true",
        help="keep the step list in print and web files too (line and layered always have it)",
    )


def _add_web_forms(replay: argparse.ArgumentParser) -> None:
    forms = replay.add_argument_group("web")
    forms.add_argument("--web-form", choices=("webp", "png", "jpeg"), default="webp")
    forms.add_argument("--web-width", type=int, metavar="PX", help="width of the picture")
    forms.add_argument(
        "--web-long-edge", type=int, metavar="PX", help="its longer edge (default: 1600)",
    )
    forms.add_argument(
        "--ground", default="none", metavar="#RRGGBB",
        help="the colour beneath the line, or none for a transparent ground (default)",
    )


def _add_measure(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    measure = commands.add_parser(
        "measure", help="say how large a page is and where its paper and ink lie",
    )
    measure.add_argument("pages", type=Path, nargs="+", metavar="PAGE_OR_FOLDER")
    measure.add_argument(
        "--list", type=Path, metavar="LIST.json",
        help="also say how much paper would still print after this list",
    )
    measure.add_argument("--json", action="store_true", help="the same for programs")
    _add_reading(measure)
    measure.set_defaults(task="measure")


def _add_show(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    show = commands.add_parser("show", help="say a step list in plain sentences")
    show.add_argument("list", type=Path, metavar="LIST.json")
    show.set_defaults(task="show")


def _add_reading(command: argparse.ArgumentParser) -> None:
    group = command.add_argument_group("reading scans")
    size = group.add_mutually_exclusive_group()
    size.add_argument("--ppi", metavar="N", help="pixels per inch, whatever the file says")
    size.add_argument(
        "--sheet", metavar="SIZE",
        help="or the size of the scanned sheet: A4, 210x297mm, 8.5x11in",
    )
    group.add_argument(
        "--no-profile", action="store_true",
        help="take colours as sRGB whatever profile the file carries",
    )
    group.add_argument(
        "--megapixels", type=int, default=600, metavar="N",
        help="refuse pages of more megapixels (default: 600)",
    )
    group.add_argument(
        "--cores", type=int, default=0, metavar="N", help="how many to use (default: all)",
    )
