"""What the window needs of the system: libraries that do not come with the toolkit."""

import ctypes
import os
import sys
from pathlib import Path

INSTALL = (
    "sudo apt-get install libegl1 libgl1 libglib2.0-0 libdbus-1-3 libfontconfig1 "
    "libxkbcommon-x11-0 libxcb-cursor0 libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-randr0 "
    "libxcb-render-util0 libxcb-shape0 libxcb-xkb1"
)
"""The line that installs them on Debian, Ubuntu and their kin."""


def missing_library() -> str:
    """What cannot be loaded, in the loader's words; empty where nothing is missing.

    Raises ModuleNotFoundError where the toolkit itself is not installed.

    The toolkit itself ends the whole program, without an exception, where the part of it that
    speaks to an X server finds a library missing: so that part is loaded here first.
    """
    try:
        from PySide6.QtCore import QLibraryInfo  # noqa: PLC0415 - this is where it is tried
        from PySide6.QtGui import QImage  # noqa: F401, PLC0415
        from PySide6.QtSvg import QSvgRenderer  # noqa: F401, PLC0415
        from PySide6.QtWidgets import QWidget  # noqa: F401, PLC0415
    except ModuleNotFoundError:
        raise
    except ImportError as error:
        return str(error)
    if not _on_x_server():
        return ""
    plugins = QLibraryInfo.path(QLibraryInfo.LibraryPath.PluginsPath)
    try:
        ctypes.CDLL(str(Path(plugins) / "platforms" / "libqxcb.so"))
    except OSError as error:
        return str(error)
    return ""


def _on_x_server() -> bool:
    asked = os.environ.get("QT_QPA_PLATFORM", "")
    if not sys.platform.startswith("linux") or asked:
        return asked.startswith("xcb")
    return bool(os.environ.get("DISPLAY")) and not os.environ.get("WAYLAND_DISPLAY")
