"""How much memory a page needs, and how much the machine has to give."""

import os
import re
from pathlib import Path

from app.pages.refusing import DECODER_ERRORS
from app.pages.renditions import Bitmap, Layered, Pdf, Rendition
from app.pages.scan import Scan
from app.replay.page import Request, read_page
from app.replay.printing import filled
from core.fault import Refused
from core.sheet import BAND_ROWS
from core.units import mm_to_px

_MEGABYTE = 1 << 20
WORKER = 100 * _MEGABYTE
"""What a worker holds before it has a page: the interpreter, numpy, OpenCV, the decoders."""

_WORKING = 14
"""Bytes a pixel beside the page itself that the hungriest of the steps takes (labels of marks,
distances): measured, with some to spare."""

SHARE = 0.75
"""Of the memory that is free when a run begins, so much may be promised to its pages."""

_CGROUP = Path("/sys/fs/cgroup")
_MEMINFO = Path("/proc/meminfo")


def need_of(request: Request, threads: int) -> int:
    """Bytes that a worker needs for a page, at most; an estimate from its header alone.

    A page that cannot be read needs nothing: its worker will say so.
    """
    try:
        scan = read_page(request.page, request.reading)
    except (Refused, *DECODER_ERRORS):
        return WORKER
    pixels = scan.shape[0] * scan.shape[1]
    deep = scan.bits // 8
    pixel = deep * (3 if scan.colour else 1)
    need = WORKER
    if "uncompressed" not in scan.stored:
        need += pixels * (pixel + deep)  # it may be held whole: one strip, or no strips at all
    if any(step.whole for step in request.steps.flat()):
        need += pixels * (3 * pixel + _WORKING)
    bands = 4 * threads * BAND_ROWS * scan.shape[1]
    need += bands * (3 * pixel + 6 * deep * len(request.outputs))
    if any(isinstance(form, Layered) for form, _ in request.outputs):
        need += pixels // 2
    size = request.printing.size_of(scan.shape, scan.ppi)
    return need + sum(
        _gathered(filled(form, request.printing, size), scan) for form, _ in request.outputs)


def _gathered(form: Rendition, scan: Scan) -> int:
    """What a form for print holds of a page: its cover, and the pixels that it is cut into."""
    if not isinstance(form, Bitmap | Pdf):
        return 0
    height, width = scan.shape
    across = width * form.ppi / scan.ppi  # pixels in print
    if form.width_mm is not None:
        across = mm_to_px(form.width_mm, form.ppi)
    cut = isinstance(form, Bitmap) or form.form == "1-bit"
    return 2 * height * width + (round(2 * across**2 * height / width) if cut else 0)


def free_memory() -> int:
    """Bytes that may be used without pushing other programs out.

    The least of what the system calls available and what a container leaves; where neither
    says, half of what is built in, or 2 GiB.
    """
    known = [value for value in (_available(), _left_in_container()) if value is not None]
    if known:
        return min(known)
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // 2
    except (AttributeError, ValueError, OSError):
        return 2 << 30


def _available() -> int | None:
    """Linux: what could be had without swapping, by proc(5)."""
    try:
        found = re.search(r"^MemAvailable:\s+(\d+) kB", _MEMINFO.read_text(), re.MULTILINE)
    except OSError:
        return None
    return int(found[1]) * 1024 if found else None


def _left_in_container() -> int | None:
    """Linux control groups, version 2: the limit less what is in use."""
    try:
        limit = (_CGROUP / "memory.max").read_text().strip()
        used = (_CGROUP / "memory.current").read_text().strip()
    except OSError:
        return None
    return max(int(limit) - int(used), 0) if limit.isdigit() else None
