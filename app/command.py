"""The command line: ``stetline COMMAND ...``, or pages for the window.

Nothing heavy is imported until a command has been understood, so that help comes at once.
"""

import argparse
import io
import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NoReturn

from app.commands.flat_words import add_colour_forms, add_flats, add_realign
from app.commands.print_words import (
    Commands,
    add_print_forms,
    add_proof,
    add_strip,
    file_name,
)
from app.commands.status import STOPPED, WRONG_REQUEST

COMMANDS = (
    "suggest", "replay", "measure", "show", "renew", "proof", "strip", "flats", "realign")
RENDITIONS = ("line", "print", "layered", "web", "bitmap", "pdf", "flats")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is 0 all done, 1 a page failed, 2 a wrong request."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if _are_pages(given):
        return _open_bench([Path(name) for name in given])
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a name may hold what the terminal has not
            stream.reconfigure(errors="backslashreplace")
    try:
        request = parse(given)
    except SystemExit as end:  # argparse has said what is wrong
        return end.code if isinstance(end.code, int) else WRONG_REQUEST
    try:
        from app.commands.tasks import run_task  # noqa: PLC0415 - help must not wait for it

        return run_task(request)
    except KeyboardInterrupt as interrupt:  # a replay says how far it came
        how_far = str(interrupt) or "what was finished stands, nothing is half-written"
        sys.stderr.write(f"stopped: {how_far}\n")
        return STOPPED
    except BrokenPipeError:  # whoever read what is said has gone, as ``| head`` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return STOPPED


class _Parser(argparse.ArgumentParser):
    """One that says what is wrong in one line."""

    def error(self, message: str) -> NoReturn:
        """Say it, and where there is more; the exit status is 2."""
        self.exit(WRONG_REQUEST, f"{self.prog}: {message}; see {self.prog} --help\n")


def parse(given: Sequence[str]) -> argparse.Namespace:
    """What was asked; pages may stand among the options, and after ``--`` all are pages.

    ``said`` are the names of what is not as it is by default.
    """
    parser, commands = build_parser()
    if not given or given[0] not in commands:
        return parser.parse_args(given)
    words = list(given[1:])
    if "--" in words:
        end = words.index("--")
        words[end:] = [f"./{word}" if word.startswith("-") else word for word in words[end + 1 :]]
    command = commands[given[0]]
    request = command.parse_intermixed_args(words)
    request.said = {name for name, value in vars(request).items()
                    if value not in (command.get_default(name), [])}
    return request


def _are_pages(given: Sequence[str]) -> bool:
    """Whether there is neither a command nor an option among them: nothing, or pages."""
    return not any(name in COMMANDS or name.startswith("-") for name in given)


def _open_bench(pages: Sequence[Path]) -> int:
    """The window; where it cannot be opened, what would help is said instead."""
    missing = [page for page in pages if not page.exists()]
    if missing:
        sys.stderr.write(
            f"{missing[0]}: there is neither a file nor a command of that name; "
            "check it, or see stetline --help\n",
        )
        return WRONG_REQUEST
    screens = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    if sys.platform.startswith("linux") and not any(os.environ.get(name) for name in screens):
        return _no_window("there is no screen here")
    from app.bench.system import INSTALL, missing_library  # noqa: PLC0415 - only for the window

    try:
        library = missing_library()
        if library:
            return _no_window(f"a library of the system is missing ({library})",
                              f"install it with: {INSTALL}")
        from app.bench.opening import open_bench  # noqa: PLC0415 - only here, and it is heavy
    except ModuleNotFoundError as error:
        return _no_window(f"the window's libraries are missing ({error})",
                          "install stetline[bench]")
    return open_bench(pages)


def _no_window(why: str, remedy: str = "stetline --help tells of the rest") -> int:
    sys.stderr.write(f"{why}: the window cannot be opened; {remedy}\n")
    return WRONG_REQUEST


def build_parser() -> tuple[argparse.ArgumentParser, Mapping[str, argparse.ArgumentParser]]:
    """The parser of all, and those of the commands: what each may be told."""
    parser: argparse.ArgumentParser = _Parser(
        prog="stetline",
        description="Isolate ink from paper: a raw scan goes in, line art on nothing comes out.",
        epilog="Without a command, stetline PAGE_OR_FOLDER... opens the window with these pages. "
               "Scans are only ever read. stetline COMMAND --help tells more.",
    )
    parser.add_argument("--version", action="version", version=f"stetline {_version()}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _add_suggest(commands)
    _add_replay(commands)
    _add_measure(commands)
    _add_show(commands)
    _add_renew(commands)
    add_proof(commands, _add_reading)
    add_strip(commands)
    add_flats(commands, _add_reading)
    add_realign(commands)
    return parser, commands.choices


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415 - 20 ms

    try:
        return version("stetline")
    except PackageNotFoundError:
        return "(not installed)"


def _add_suggest(commands: Commands) -> None:
    suggest = commands.add_parser(
        "suggest", help="read a page, write a step list fitted to it, and say why",
    )
    suggest.add_argument("page", type=file_name, metavar="PAGE",
                         help="a scan; of a folder or a file of several, its first page")
    suggest.add_argument("--out", type=file_name, required=True, metavar="LIST.json",
                         help="where the list goes")
    suggest.add_argument("--name", help="what the list is called (default: as its file)")
    suggest.add_argument("--ink-only", action="store_true",
                         help="where ink and something paler lie together, leave out the paler")
    _add_reading(suggest)
    suggest.set_defaults(task="suggest")


def _add_replay(commands: Commands) -> None:
    replay = commands.add_parser(
        "replay", help="do a step list over pages, or a whole job, and write them out",
    )
    replay.add_argument(
        "book", type=file_name, metavar="LIST.json|BOOK.json",
        help="a step list; or a job, which names its pages and outputs itself",
    )
    replay.add_argument("pages", type=file_name, nargs="*", metavar="PAGE_OR_FOLDER",
                        help="scans, and folders of scans; none with a job")
    replay.add_argument(
        "--into", type=file_name, metavar="FOLDER",
        help="where outputs go (a job has its own folder)",
    )
    replay.add_argument(
        "--rendition", action="append", choices=RENDITIONS,
        help="what to write; may be given several times (default: line)",
    )
    _add_line_forms(replay)
    _add_web_forms(replay)
    add_print_forms(replay)
    add_colour_forms(replay)
    _add_naming(replay)
    _add_book(replay)
    _add_going_on(replay)
    _add_cluster(replay)
    _add_reading(replay)
    replay.set_defaults(task="replay")


def _add_naming(replay: argparse.ArgumentParser) -> None:
    names = replay.add_argument_group("names and folders")
    names.add_argument(
        "--names", metavar="PATTERN",
        help="names of outputs: {stem}, {number}, {side}, {list} and {rendition} are replaced "
        "(default: {stem}-{rendition}, "
        "and {stem}-page for a PDF)",
    )
    names.add_argument("--start", type=int, default=1, metavar="N", help="number of the first page")
    names.add_argument("--padding", type=_count, default=3, metavar="N", help="digits of a number")
    names.add_argument(
        "--first-page", choices=("left", "right"), default="right",
        help="the side on which the first page lies (default: right)",
    )
    names.add_argument(
        "--folders", choices=("flatten", "keep"),
        help="go into folders below as well, and put all outputs into one folder or keep theirs",
    )


def _add_book(replay: argparse.ArgumentParser) -> None:
    book = replay.add_argument_group("the book as a whole")
    book.add_argument(
        "--keep", type=file_name, metavar="BOOK.json",
        help="write all that was asked into a job, so that replay BOOK.json is the whole command",
    )
    book.add_argument(
        "--like", type=file_name, metavar="PAGE",
        help="compare all pages with this one, that the list was made on "
        "(default: with what is usual among them)",
    )
    book.add_argument(
        "--leave-out", action="store_true",
        help="look at all pages first, and leave out those that stand apart from the others",
    )
    book.add_argument(
        "--report", action="store_true",
        help="write stetline-report.html and .json beside the outputs",
    )
    book.add_argument(
        "--plan", action="store_true",
        help="say what would be read and written, how large and how long; write nothing",
    )
    book.add_argument(
        "--watch", action="store_true",
        help="do pages as a scanner drops them into the folder, until Ctrl-C",
    )


def _add_cluster(replay: argparse.ArgumentParser) -> None:
    cluster = replay.add_argument_group(
        "more than one machine",
        "Pages are sent to a Dask distributed scheduler (install stetline[cluster]); scans and "
        "outputs lie on storage that all see under one path. A scheduler and its peers are "
        "trusted with whatever they run: use TLS, and let nobody else reach them.",
    )
    cluster.add_argument("--cluster", metavar="ADDRESS", help="tcp://host:8786 or tls://host:8786")
    cluster.add_argument("--tls-ca-file", type=file_name, metavar="FILE")
    cluster.add_argument("--tls-cert", type=file_name, metavar="FILE")
    cluster.add_argument("--tls-key", type=file_name, metavar="FILE")


def _add_going_on(replay: argparse.ArgumentParser) -> None:
    going = replay.add_argument_group("pages that were done before, and what is said")
    going.add_argument(
        "--again", action="store_true",
        help="do every page; without it those that are unchanged since they were done stand",
    )
    going.add_argument(
        "--check", action="store_true",
        help="read scans and outputs to see whether they changed, not only their size and time",
    )
    going.add_argument("--quiet", action="store_true", help="say only what went wrong")
    going.add_argument("--json", action="store_true", help="say one JSON object a line")


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
    forms.add_argument("--web-width", type=_count, metavar="PX", help="width of the picture")
    forms.add_argument(
        "--web-long-edge", type=_count, default=1600, metavar="PX",
        help="its longer edge, where no width is given (default: 1600)",
    )
    forms.add_argument(
        "--ground", default="none", metavar="#RRGGBB",
        help="the colour beneath the line, or none for a transparent ground (default)",
    )


def _add_measure(commands: Commands) -> None:
    measure = commands.add_parser(
        "measure", help="say how large a page is and where its paper and ink lie",
    )
    measure.add_argument("pages", type=file_name, nargs="+", metavar="PAGE_OR_FOLDER",
                         help="scans, and folders of scans")
    measure.add_argument(
        "--list", type=file_name, metavar="LIST.json",
        help="also say how much paper would still print after this list",
    )
    measure.add_argument("--json", action="store_true", help="the same for programs")
    _add_reading(measure)
    measure.set_defaults(task="measure")


def _add_show(commands: Commands) -> None:
    show = commands.add_parser("show", help="say a step list in plain sentences")
    show.add_argument("list", type=file_name, metavar="LIST.json", help="the step list")
    show.set_defaults(task="show")


def _add_renew(commands: Commands) -> None:
    renew = commands.add_parser(
        "renew", help="bring a step list or a job of an older program up to date")
    renew.add_argument("file", type=file_name, metavar="LIST_OR_JOB.json",
                       help="the list or the job; it stays as it is")
    renew.add_argument("--out", type=file_name, required=True, metavar="NEW.json",
                       help="where the new one goes, which says the same; what it does may differ")
    renew.set_defaults(task="renew")


def _count(said: str) -> int:
    """A whole number from 1 on."""
    if not (said.isascii() and said.isdigit() and int(said)):
        raise argparse.ArgumentTypeError(f"{said} is no whole number from 1 on")
    return int(said)


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
        "--megapixels", type=_count, default=600, metavar="N",
        help="refuse pages of more megapixels (default: 600)",
    )
    group.add_argument(
        "--cores", type=_count, default=0, metavar="N", help="how many to use (default: all)",
    )
