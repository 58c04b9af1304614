"""Putting artifacts on disk, all or nothing, without losing anything that the user wrote.

The new folder is built beside the old one, under a hidden name, and the two change places in one step (``renameat2``
with RENAME_EXCHANGE, Linux 3.15) where the system has it. Elsewhere the old one steps aside and the new one takes its
place: two renames, and a run that was killed between them is put right by the next. What the user changed or added is
told from what we wrote by the hashes in the folder's own record (``chassis_describe.json``).

A folder that is a repository keeps its ``.git``: it is moved into the new folder right after the exchange. A run that
is killed between the two leaves it in the hidden folder, and the next run puts it back before anything else.
"""
from __future__ import annotations

import contextlib
import errno
import glob
import hashlib
import os
import shutil
import stat
import time
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath

from chassis_describe.artifact import Artifact
from chassis_describe.disk.exchange import exchange as _exchange
from chassis_describe.disk.steps import Step, no_step, sync_folder
from chassis_describe.errors import TargetError
from chassis_describe.targets.package.record import RECORD, recorded_files
from chassis_describe.values import dataclass

#: Written by Python beside launch files that were run from the source folder; nobody's work.
_BY_PRODUCTS = frozenset({"__pycache__"})
#: Of version control at the top of the folder: moved over as they are, never looked into, never removed.
_REPOSITORY = (".git", ".hg", ".svn")
_LOCK_SECONDS = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteResult:
    """What became of a folder. Paths are relative to it, ``/`` between names; ``kept``: where the user's copies are.

    ``leftover``: what of the old package could not be removed, and why; the new one is in place all the same.
    """

    out: Path
    written: tuple[str, ...]
    unchanged: tuple[str, ...]
    removed: tuple[str, ...]
    kept: Path | None = None
    leftover: tuple[Path, str] | None = None


def write_package(out: Path, artifacts: Sequence[Artifact], *, replace: bool = False,
                  step: Step = no_step) -> WriteResult:
    """Make the folder ``out`` hold exactly these files; one of them is the record of the others.

    Refused with TargetError: a folder that we did not write; files that the user changed or added since, unless
    ``replace``, which first copies them to a folder beside. After any failure the old folder stands as it was.
    """
    files = _checked(artifacts)
    # The user's own link to the folder stays a link: what it points to is exchanged.
    target = Path(os.path.realpath(out))
    if not target.name:
        raise TargetError(f"{out}: give a folder of its own to write to")
    try:
        _make_parents(target.parent, step)
        with _locked(target.parent):
            return _write(out, _Places(target), files, replace, step)
    except OSError as error:
        raise TargetError(f"{out}: {error.strerror or error}"
                          f"{f' ({error.filename})' if error.filename else ''}; nothing was changed") from error


@dataclass(frozen=True, slots=True)
class _Places:
    """The names that one target uses beside itself."""

    target: Path

    @property
    def new(self) -> Path:
        """The folder under construction; after an exchange, the old package."""
        return self.target.with_name(f".{self.target.name}.chassis_describe-new")

    @property
    def old(self) -> Path:
        """The old package while the new one takes its place, where there is no exchange."""
        return self.target.with_name(f".{self.target.name}.chassis_describe-old")

    def kept(self) -> Path:
        """The first free name for the user's copies."""
        return self._free(f"{self.target.name}.kept")

    def aside(self) -> Path:
        """The first free name for what can't be removed."""
        return self._free(f".{self.target.name}.chassis_describe-left")

    def _free(self, name: str) -> Path:
        number = 1
        while os.path.lexists(path := self.target.with_name(f"{name}-{number}")):
            number += 1
        return path


def _checked(artifacts: Sequence[Artifact]) -> dict[str, bytes]:
    files: dict[str, bytes] = {}
    folded: dict[str, str] = {}
    for artifact in artifacts:
        path = PurePosixPath(artifact.path)
        if path.is_absolute() or ".." in path.parts or "\\" in artifact.path or str(path) != artifact.path:
            raise TargetError(f"{artifact.path!r} is not a path inside the output folder")
        other = folded.setdefault(artifact.path.casefold(), artifact.path)
        if artifact.path in files or other != artifact.path:
            raise TargetError(f"two outputs want to be {artifact.path}"
                              + (f" (the other {other}: one file where case does not count)" if other != artifact.path
                                 else ""))
        files[artifact.path] = artifact.data
    if RECORD not in files:
        raise TargetError(f"an output folder needs its record {RECORD}")
    return files


def _make_parents(parent: Path, step: Step) -> None:
    if not parent.is_dir():
        step("make parents")
        parent.mkdir(parents=True, exist_ok=True)


def _write(out: Path, places: _Places, files: Mapping[str, bytes], replace: bool, step: Step) -> WriteResult:
    target = places.target
    _recover(places, step)
    existing = _existing(out, target)
    seen = _users_files(target) if existing else ()
    theirs = tuple(p for p in seen if not _same(target / p, files.get(p)))
    if theirs and not replace:
        raise TargetError(_refusal(out, theirs))
    unchanged = tuple(p for p in files if existing and _same(target / p, files[p]))
    present = _files_below(target) if existing else ()
    removed = tuple(p for p in present if p not in files and p not in theirs)
    written = tuple(p for p in files if p not in set(unchanged))
    if existing and not written and not removed and not theirs:
        return WriteResult(out=out, written=(), unchanged=unchanged, removed=())
    kept = _keep(places, theirs, step) if theirs else None
    try:
        _build(places.new, target if existing else None, files, frozenset(unchanged), step)
        _swap(out, places, existing, _Seen(seen, kept), step)
    except BaseException:
        with contextlib.suppress(OSError):
            _clear(places.new, places, no_step)
            if kept is not None:
                shutil.rmtree(kept)
        raise
    # From here on the new package is in place: what follows is cleaning up, and no reason to fail.
    leftover = None
    try:
        step("sync parent")
        sync_folder(target.parent)
        for rest in (places.new, places.old):
            if rest.is_dir() and not rest.is_symlink() and _late(rest, _Seen(seen, kept)):
                kept = places.kept()  # saved in the old folder after the exchange, by who still had it open
                (rest / "COLCON_IGNORE").touch()
                rest.rename(kept)
            _remove_package(rest, step)
    except OSError as error:
        rest = places.new if os.path.lexists(places.new) else places.old
        leftover = (Path(error.filename) if error.filename else rest, error.strerror or str(error))
    return WriteResult(out=out, written=written, unchanged=unchanged, removed=removed, kept=kept, leftover=leftover)


# ---------------------------------------------------------------------------------- what is there now
def _existing(out: Path, target: Path) -> bool:
    """Whether a package of ours stands there; an empty folder counts as nothing, an empty repository as a
    package without files. Anything else is refused."""
    if not os.path.lexists(target):
        return False
    if not target.is_dir():
        raise TargetError(f"{out} is a file; give the folder that is to become the package")
    if not any(target.iterdir()):
        return False
    if recorded_files(_bytes(target / RECORD)) is None and any(e.name not in _REPOSITORY for e in target.iterdir()):
        raise TargetError(f"{out} was not written by chassis_describe (it has no {RECORD} of ours); "
                          "give a new or empty folder")
    return True


def _refusal(out: Path, theirs: Sequence[str]) -> str:
    listed = "".join(f"\n  {p}" for p in theirs)
    return (f"{out}: changed or added since it was written, and not to be lost; nothing was written:{listed}\n"
            "Move them out of the folder, or give --replace, which keeps copies in a folder beside.")


def _bytes(path: Path) -> bytes | None:
    """The bytes of a regular file, not through a link; None where there is none."""
    try:
        if not stat.S_ISREG(path.lstat().st_mode):
            return None
        return path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return None


def _same(path: Path, data: bytes | None) -> bool:
    return data is not None and _bytes(path) == data


def _files_below(folder: Path) -> tuple[str, ...]:
    """Everything but real folders, by-products and the repository, sorted; empty folders with a ``/`` at the end."""
    found: list[str] = []
    for root, folders, names in os.walk(folder):
        here = Path(root)
        if here == folder:
            folders[:], names = ([n for n in some if n not in _REPOSITORY] for some in (folders, names))
        links = [f for f in folders if (here / f).is_symlink()]
        folders[:] = sorted(f for f in folders if f not in _BY_PRODUCTS and f not in links)
        relative = here.relative_to(folder)
        found += [(relative / name).as_posix() for name in [*names, *links]]
        if not names and not links and not folders and root != os.fspath(folder) and not any(here.iterdir()):
            found.append(f"{relative.as_posix()}/")
    return tuple(sorted(found))


def _users_files(folder: Path) -> tuple[str, ...]:
    """What is in the folder and is not as we wrote it, by the folder's own record (all of it, when that was edited)."""
    ours = recorded_files(_bytes(folder / RECORD))
    if ours is None:
        return _files_below(folder)
    theirs = []
    for path in _files_below(folder):
        data = _bytes(folder / path)
        if path == RECORD and ours:  # checked by its own seal
            continue
        if path.endswith("/") and any(p.startswith(path) for p in ours):
            continue  # a folder of ours whose files are gone, as a run leaves it that was killed while it removed them
        if path not in ours or data is None or hashlib.sha256(data).hexdigest() != ours[path]:
            theirs.append(path)
    return tuple(theirs)


# ---------------------------------------------------------------------------------- doing things
def _build(new: Path, old: Path | None, files: Mapping[str, bytes], unchanged: frozenset[str], step: Step) -> None:
    """Build the whole package at ``new``; files that stay as they are keep their times. The record comes last."""
    step("make folder")
    new.mkdir()
    folders = {new}
    for path in sorted(files, key=lambda p: (p == RECORD, p)):
        place = new / path
        for folder in reversed(place.relative_to(new).parents):
            if new / folder not in folders:
                step(f"make folder {folder}")
                (new / folder).mkdir()
                folders.add(new / folder)
        step(f"write {path}")
        if old is not None and path in unchanged and _carry_over(old / path, place):
            continue
        with place.open("xb") as stream:
            half = len(files[path]) // 2
            stream.write(files[path][:half])
            stream.flush()
            step(f"write the rest of {path}")
            stream.write(files[path][half:])
            stream.flush()
            os.fsync(stream.fileno())
    if old is not None:
        shutil.copymode(old, new)
    step("sync folders")
    for folder in folders:
        sync_folder(folder)


def _carry_over(old: Path, place: Path) -> bool:
    """The same file under its new name: a second name for it, or a copy with its times where links can't be had."""
    try:
        os.link(old, place, follow_symlinks=False)
    except OSError:
        with contextlib.suppress(OSError):
            shutil.copy2(old, place, follow_symlinks=False)
            return True
        with contextlib.suppress(FileNotFoundError):
            place.unlink()
        return False
    return True


@dataclass(frozen=True, slots=True)
class _Seen:
    """What of the user's was in the folder when we looked, and where copies of it are."""

    paths: tuple[str, ...]
    kept: Path | None


def _late(folder: Path, seen: _Seen) -> tuple[str, ...]:
    """What the user changed since we looked: files that were not seen, and those that are not as they were copied."""
    def changed(path: str) -> bool:
        if path not in seen.paths:
            return True
        copied = seen.kept / path if seen.kept is not None else None
        return copied is not None and os.path.lexists(copied) and _bytes(copied) != _bytes(folder / path)

    return tuple(p for p in _users_files(folder) if changed(p))


def _swap(out: Path, places: _Places, existing: bool, seen: _Seen, step: Step) -> None:
    """Let the new folder take the target's place; not when the user changed more than was ``seen``."""
    target, new, old = places.target, places.new, places.old
    if not existing:
        step("rename")
        try:
            new.rename(target)  # onto nothing or an empty folder: one step
        except OSError as error:
            if error.errno in (errno.ENOTEMPTY, errno.EEXIST, errno.ENOTDIR):
                raise TargetError(f"{out}: something else was put there meanwhile; nothing was written") from error
            raise
        return
    step("exchange")
    if _exchange(new, target):
        try:
            step("exchanged")
            if late := _late(new, seen):
                raise TargetError(_refusal(out, late))
            _move_repository(new, target, step)
        except BaseException:
            _move_repository(target, new, no_step)
            _exchange(new, target)
            raise
        return
    if late := _late(target, seen):
        raise TargetError(_refusal(out, late))
    step("rename old")
    target.rename(old)
    try:
        step("rename new")
        new.rename(target)
    except BaseException:
        old.rename(target)
        raise
    try:
        _move_repository(old, target, step)
    except BaseException:
        _move_repository(target, old, no_step)
        target.rename(new)
        old.rename(target)
        raise


def _move_repository(source: Path, place: Path, step: Step) -> None:
    """Move what is of version control to a folder that has none of that name; each in one step."""
    for name in _REPOSITORY:
        if os.path.lexists(source / name) and not os.path.lexists(place / name):
            step(f"move {name}")
            (source / name).rename(place / name)


def _has_repository(folder: Path) -> bool:
    return any(os.path.lexists(folder / name) for name in _REPOSITORY)


def _keep(places: _Places, theirs: Sequence[str], step: Step) -> Path:
    """Copy the user's files to a folder beside that colcon does not look into."""
    kept = places.kept()
    step("make folder for copies")
    kept.mkdir()
    (kept / "COLCON_IGNORE").touch()
    for path in theirs:
        step(f"copy {path}")
        place = kept / path
        if path.endswith("/"):
            place.mkdir(parents=True, exist_ok=True)
            continue
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(places.target / path, place, follow_symlinks=False)
    for folder, _, _ in os.walk(kept):
        sync_folder(Path(folder))
    return kept


# ---------------------------------------------------------------------------------- what an earlier run left over
def _recover(places: _Places, step: Step) -> None:
    """Put right what a run left that was killed. Nothing of the user's is in what is removed: that was checked."""
    if os.path.lexists(places.old) and not os.path.lexists(places.target):
        step("put the old package back")
        places.old.rename(places.target)
    if places.target.is_dir():
        for rest in (places.new, places.old):
            if rest.is_dir() and not rest.is_symlink():
                _move_repository(rest, places.target, step)
    for rest in (places.new, places.old):
        try:
            _clear(rest, places, step)
        except OSError:  # something in it can't be removed: out of the way with it
            if not os.path.lexists(rest):
                continue
            rest.rename(places.aside())
    for rest in places.target.parent.glob(f".{glob.escape(places.target.name)}.chassis_describe-left-*"):
        with contextlib.suppress(OSError):  # perhaps it can by now
            _remove_package(rest, step)


def _clear(rest: Path, places: _Places, step: Step) -> None:
    """Remove a folder not in use. With a record it is a package, perhaps half removed: what doesn't fit is kept."""
    if not rest.is_symlink() and (_has_repository(rest) or (recorded_files(_bytes(rest / RECORD)) is not None
                                                            and _users_files(rest))):
        step("keep what an earlier run left over")
        (rest / "COLCON_IGNORE").touch()
        rest.rename(places.kept())
    else:
        _remove_package(rest, step)


def _remove_package(folder: Path, step: Step) -> None:
    """Remove a folder of ours, its record last, so that what is left of it can still be judged."""
    if not os.path.lexists(folder):
        return
    if folder.is_symlink() or not folder.is_dir():
        folder.unlink()
        return
    if _has_repository(folder):  # not in any way that is foreseen; the next run decides where it belongs
        return
    for entry in sorted(folder.iterdir(), key=lambda e: (e.name == RECORD, e.name)):
        step(f"remove {entry.name}")
        if entry.is_dir() and not entry.is_symlink():
            shutil.rmtree(entry)
        else:
            entry.unlink()
    step("remove folder")
    folder.rmdir()


@contextlib.contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Hold the folder against a second run; two runs into one target would take each other's work away."""
    try:
        import fcntl
    except ImportError:  # not a POSIX system
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        deadline = time.monotonic() + _LOCK_SECONDS
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > deadline:
                    raise TargetError(f"{folder}: another run has been writing here for {_LOCK_SECONDS:.0f} s; "
                                      "try again when it is done") from None
                time.sleep(0.05)
            except OSError:
                break  # a file system without locks: go on as one would without them
        yield
    finally:
        os.close(handle)
