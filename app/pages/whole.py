"""An output is whole or absent: it grows under another name and is renamed when complete."""

import errno
import os
import secrets
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import IO, BinaryIO, Self

from core.fault import Fault, Refused

_MARK = ".part-"
_RANDOM_BYTES = 4
MARK_BYTES = 1 + len(_MARK) + 2 * _RANDOM_BYTES
"""How much longer than its output's name a temporary file's name is."""


def replace_file(path: Path, data: bytes, *, durable: bool = True) -> None:
    """Make ``data`` the file's content; it is whole, or as it was before.

    Raises ``Refused`` where the system does not let it be written.

    >>> with tempfile.TemporaryDirectory() as folder:
    ...     replace_file(Path(folder) / "list.json", b"{}")
    ...     (Path(folder) / "list.json").read_bytes()
    b'{}'
    """
    with telling(path), Part(path) as part:
        part.open().write(data)
        part.seal(durable=durable)
        part.publish(durable=durable)


class Part:
    """A file, or a folder of files, that becomes ``target`` when it is published.

    A folder takes the place of another only if that holds nothing but files of the same names,
    or such as are ``ours``. As a context manager it leaves nothing behind unless it was
    published, whatever the reason. Raises ``OSError`` like the system does; see ``telling``.
    """

    def __init__(
        self, target: Path, *, folder: bool = False,
        ours: Callable[[Path], bool] = lambda _: False,
    ) -> None:
        self._target, self._ours = target, ours
        self._temporary = _beside(target)
        self._is_folder = folder
        self._files: list[BinaryIO] = []
        self._spools: list[IO[bytes]] = []
        if folder:
            self._temporary.mkdir()

    def open(self, name: str = "") -> BinaryIO:
        """A new file for writing: the output itself, or the one of that name in its folder."""
        path = self._temporary / name if self._is_folder else self._temporary
        file = path.open("xb")
        self._files.append(file)
        return file

    def spool(self) -> IO[bytes]:
        """A nameless file on the same disk that goes away with the part."""
        file = tempfile.TemporaryFile(dir=self._target.parent)  # noqa: SIM115 - closed by discard
        self._spools.append(file)
        return file

    def seal(self, *, durable: bool) -> None:
        """Close all files; if ``durable``, not before the disk has them."""
        for file in self._files:
            file.flush()
            if durable:
                os.fsync(file.fileno())
            file.close()
        if durable and self._is_folder:
            _sync_folder(self._temporary)

    def publish(self, *, durable: bool) -> None:
        """Take the target's place, in one rename for a file."""
        if self._is_folder and self._target.is_dir():
            self._replace_folder()
        else:
            self._temporary.replace(self._target)
        if durable:
            _sync_folder(self._target.parent)

    def _replace_folder(self) -> None:
        names = {path.name for path in self._temporary.iterdir()}
        for path in sorted(self._target.iterdir()):
            if path.name not in names and not (path.is_file() and self._ours(path)):
                raise Refused(Fault(
                    f"the folder holds {path.name}, which Stetline did not write",
                    self._target.name, "move the folder away first"))
        old = _beside(self._target)
        self._target.rename(old)
        try:
            self._temporary.rename(self._target)
        except BaseException:
            old.rename(self._target)
            raise
        if old.is_symlink():  # what it leads to is not ours
            old.unlink()
        else:
            shutil.rmtree(old)

    def discard(self) -> None:
        """Remove whatever was written; after publishing there is nothing to remove."""
        for file in [*self._files, *self._spools]:
            try:
                file.close()
            except OSError:  # a full disk refuses the last buffer too
                continue
        if self._is_folder:
            shutil.rmtree(self._temporary, ignore_errors=True)
        else:
            with suppress(OSError):  # a disk that has become read-only keeps it
                self._temporary.unlink(missing_ok=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None,
                 trace: TracebackType | None) -> None:
        self.discard()


def _beside(target: Path) -> Path:
    return target.with_name(f".{target.name}{_MARK}{secrets.token_hex(_RANDOM_BYTES)}")


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":  # elsewhere a folder cannot be opened, and a rename is written through
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def telling(target: Path) -> Iterator[None]:
    """Say in a sentence which output could not be written, and what to do.

    >>> with telling(Path("out") / "a-line.png"):
    ...     raise OSError(errno.ENOSPC, "No space left on device")
    Traceback (most recent call last):
    ...
    core.fault.Refused: a-line.png: the disk is full; free some space, or write to another disk.
    """
    try:
        yield
    except Refused as refused:
        faults = [replace(fault, where=fault.where or target.name) for fault in refused.faults]
        raise Refused(faults) from refused
    except OSError as error:
        what, remedy = _sentence(error, target)
        raise Refused(Fault(what, target.name, remedy)) from error


def _without_folder(folder: Path) -> tuple[str, str]:
    if folder.exists():
        return f"{folder} is no folder", "choose another"
    return f"the folder {folder} is not there", "make it, or choose another folder"


def _sentence(error: OSError, target: Path) -> tuple[str, str]:
    folder = f"the folder {target.parent}"
    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return "the disk is full", "free some space, or write to another disk"
        case errno.ENOENT | errno.ENOTDIR if not target.parent.is_dir():
            return _without_folder(target.parent)
        case errno.EACCES | errno.EPERM | errno.EROFS:
            return f"{folder} may not be written to", "choose another folder"
        case errno.EISDIR | errno.EEXIST | errno.ENOTEMPTY | errno.ENOTDIR:
            return "something else of that name is in the way", "move it, or choose another folder"
        case errno.ENAMETOOLONG:
            return "the name is too long", "use a shorter one"
        case _:
            why = error.strerror or type(error).__name__
            return f"it could not be written ({why.lower()})", "try again, or choose another folder"
