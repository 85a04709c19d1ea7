"""One process at a time: a lock of the system's own on an open file.

It ends with the process that holds it, however that ends, so that none is ever left over. It lies
on a byte far behind all that the file holds: readers are not held up, whatever the system.
"""

import os
import sys

_AT = 2**31 - 2
"""The last place that Windows can lock by its C library."""


def lock_file(handle: int) -> bool:
    """Lock an open file for this process; return whether no other one has it.

    The lock is given back as the handle is closed.

    Raises
    ------
    OSError : files of this kind, or on this disk, cannot be locked.
    """
    try:
        _lock(handle)
    except (BlockingIOError, PermissionError):
        return False
    return True


if sys.platform == "win32":

    def _lock(handle: int) -> None:
        import msvcrt

        place = os.lseek(handle, 0, os.SEEK_CUR)
        os.lseek(handle, _AT, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        finally:
            os.lseek(handle, place, os.SEEK_SET)

else:

    def _lock(handle: int) -> None:
        import fcntl

        # Of the open file, not of the process: closing another handle of it gives nothing back.
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
