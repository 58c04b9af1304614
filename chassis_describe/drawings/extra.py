"""What needs the extra ``pictures``: said plainly where it is not installed."""
from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from chassis_describe.errors import UsageError


@contextmanager
def needs_pictures(what: str) -> Iterator[None]:
    """Around imports. Raises UsageError that says what to install."""
    try:
        yield
    except ImportError as error:
        raise UsageError(f"{what} needs {error.name or error}, which is not installed: pip install 'chassis_describe[pictures]'; "
                         "svg and stl need nothing more") from error
