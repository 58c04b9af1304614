"""Files as they stood in a revision of their git repository: ``git:REV`` and ``git:REV:path`` on the command line."""
from __future__ import annotations

import os
import subprocess
from typing import NamedTuple

from chassis_describe.errors import UsageError
from chassis_describe.inputs import most_bytes, open_input, too_large
from chassis_describe.units import shown


class Source(NamedTuple):
    """A file to read: on the disk, or as it was in revision ``rev``."""

    path: str
    rev: str | None = None

    def __str__(self) -> str:
        return self.path if self.rev is None else f"git:{self.rev}:{self.path}"


def source_of(text: str, other: str | None) -> Source:
    """What ``FILE``, ``git:REV`` or ``git:REV:path`` names; ``other`` is the file that ``git:REV`` is of."""
    if not text.startswith("git:"):
        return Source(text)
    rev, colon, path = text[4:].partition(":")
    if not rev or rev.startswith("-"):
        raise UsageError(f"{shown(text)}: write git:REV, such as git:HEAD or git:v1.2, or git:REV:path")
    if colon and path:
        return Source(path, rev)
    if other is None or other.startswith("git:") or other == "-":
        raise UsageError(f"{shown(text)} is of the same file as the other one, and that is no file here; write "
                         f"git:{rev}:path")
    return Source(other, rev)


class Revision:
    """Opens files as they stood in one revision; paths as from here, like those on the disk."""

    def __init__(self, source: Source) -> None:
        assert source.rev is not None
        self.rev = source.rev
        folder = os.path.dirname(os.path.abspath(source.path))
        while not os.path.isdir(folder):  # the folder may have gone since
            folder = os.path.dirname(folder)
        top = _git(folder, "rev-parse", "--show-toplevel")
        if top.returncode:
            raise UsageError(f"{source}: {_because(top, f'{folder} is not in a git repository')}")
        self.top = os.path.realpath(top.stdout.decode("utf-8", "surrogateescape").rstrip("\n"))
        found = _git(self.top, "rev-parse", "--verify", "--quiet", f"{self.rev}^{{commit}}")
        if found.returncode:
            raise UsageError(f"{source}: there is no revision {shown(self.rev)} in this repository (a branch, a tag, a "
                             "commit, HEAD~1 …); a CI run may have fetched only the last commit")
        self.commit = found.stdout.decode("ascii").strip()

    def __call__(self, path: str) -> bytes:
        """The bytes of a file then; of a file outside the repository, its bytes now."""
        absolute = os.path.abspath(path)
        inside = os.path.relpath(os.path.join(os.path.realpath(os.path.dirname(absolute)), os.path.basename(absolute)), self.top)
        if inside.split(os.sep, 1)[0] == os.pardir:
            return open_input(path)
        name = inside.replace(os.sep, "/")
        size = _git(self.top, "cat-file", "-s", f"{self.commit}:{name}")
        if not size.returncode and int(size.stdout) > most_bytes(path):
            raise too_large(most_bytes(path))
        done = _git(self.top, "cat-file", "blob", f"{self.commit}:{name}")
        if done.returncode:
            kind = _git(self.top, "cat-file", "-t", f"{self.commit}:{name}").stdout.strip()
            if kind == b"tree":
                raise IsADirectoryError(path)
            raise OSError(f"there was no such file in git revision {self.rev}")
        return done.stdout


def _git(folder: str, *arguments: str) -> subprocess.CompletedProcess[bytes]:
    # A hook that git runs is told of its repository by names relative to another folder than ours.
    environment = {k: v for k, v in os.environ.items() if k not in ("GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE", "GIT_PREFIX")}
    try:
        return subprocess.run(["git", "-C", folder, *arguments], capture_output=True, stdin=subprocess.DEVNULL, check=False,
                              env=environment)
    except OSError as error:
        raise UsageError(f"git can't be run ({error.strerror}); git:REV needs it") from error


def _because(done: subprocess.CompletedProcess[bytes], usual: str) -> str:
    """The usual reason, or git's own when it has another."""
    said = done.stderr.decode("utf-8", "replace").strip()
    return usual if not said or "not a git repository" in said else shown(said, 200)
