"""Two names that change places in one step (renameat2(2) with RENAME_EXCHANGE, Linux 3.15)."""
from __future__ import annotations

import ctypes
import errno
import os
import sys
from pathlib import Path

_RENAME_EXCHANGE = 2  # linux/fs.h
_AT_FDCWD = -100  # fcntl.h


def exchange(a: Path, b: Path) -> bool:
    """Let two paths change places in one step; False where system or file system can't."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        renameat2 = ctypes.CDLL(None, use_errno=True).renameat2  # glibc 2.28
    except (AttributeError, OSError):
        return False
    if renameat2(_AT_FDCWD, os.fsencode(a), _AT_FDCWD, os.fsencode(b), ctypes.c_uint(_RENAME_EXCHANGE)) == 0:
        return True
    code = ctypes.get_errno()
    if code in (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP):
        return False
    raise OSError(code, os.strerror(code), os.fspath(b))
