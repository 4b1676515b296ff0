"""A file that one process has to itself, for as long as it holds it open."""

import sys

if sys.platform == "win32":
    import msvcrt

    def lock(handle: int) -> None:
        """Have it alone; raises OSError where another has it."""
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def lock(handle: int) -> None:
        """Have it alone; raises OSError where another has it."""
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
