"""Writing a package: all or nothing, and nothing of the user's is lost.

Source of the claims: POSIX.1-2017 rename(), Linux renameat2(2) (RENAME_EXCHANGE), and this project's own promise in the
README. Faults are real: the process ends, or the disk refuses, at every step that touches the disk, one run for each.
"""
from __future__ import annotations

import errno
import hashlib
import json
import os
import sys
import threading
from pathlib import Path

import pytest

from chassis_describe.artifact import Artifact
from chassis_describe.disk import package as writing
from chassis_describe.disk.package import write_package
from chassis_describe.errors import TargetError
from chassis_describe.targets.package.record import RECORD, record, recorded_files

OLD = {"package.xml": b"<old/>", "urdf/a.urdf": b"old robot", "meshes/deck.stl": b"same mesh", "docs/gone.md": b"gone"}
NEW = {"package.xml": b"<new/>", "urdf/a.urdf": b"new robot, longer", "meshes/deck.stl": b"same mesh",
       "config/more.yaml": b"x: 1"}


def sealed(files: dict[str, bytes]) -> list[Artifact]:
    made = [Artifact(path=p, data=d) for p, d in files.items()]
    return [*made, record(made, version="1.2.3", robot="a", inputs={"a.yaml": b"in"})]


def as_dict(files: dict[str, bytes]) -> dict[str, bytes]:
    return {a.path: a.data for a in sealed(files)}


def tree(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.fixture(params=["exchange", "two renames"])
def swap(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Both ways to take the old package's place."""
    if request.param == "two renames":
        monkeypatch.setattr(writing, "_exchange", lambda a, b: False)
    elif not sys.platform.startswith("linux"):
        pytest.skip("only Linux exchanges two folders in one step")
    return str(request.param)


def test_writes_what_it_is_given(tmp_path: Path) -> None:
    out = tmp_path / "not" / "yet" / "a_description"
    result = write_package(out, sealed(OLD))
    assert tree(out) == as_dict(OLD)
    assert set(result.written) == set(as_dict(OLD))
    assert os.listdir(out.parent) == ["a_description"]


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    write_package(tmp_path / "a", sealed(OLD))
    (tmp_path / "b").mkdir()
    write_package(tmp_path / "b", sealed(OLD))
    assert tree(tmp_path / "b") == tree(tmp_path / "a")


def test_exchanged_for_the_new_one(tmp_path: Path, swap: str) -> None:
    out = tmp_path / "a"
    write_package(out, sealed(OLD))
    os.utime(out / "meshes/deck.stl", (1_000_000_000, 1_000_000_000))
    result = write_package(out, sealed(NEW))
    assert tree(out) == as_dict(NEW)
    assert result.removed == ("docs/gone.md",)
    assert result.unchanged == ("meshes/deck.stl",)
    assert (out / "meshes/deck.stl").stat().st_mtime == 1_000_000_000, "what did not change keeps its time"
    assert (out / "meshes/deck.stl").stat().st_nlink == 1
    assert os.listdir(tmp_path) == ["a"]


def test_nothing_is_touched_when_nothing_changed(tmp_path: Path) -> None:
    out = tmp_path / "a"
    write_package(out, sealed(OLD))
    before = {p: (p.stat().st_ino, p.stat().st_mtime_ns) for p in [out, *out.rglob("*")]}
    result = write_package(out, sealed(OLD))
    assert not result.written
    assert not result.removed
    assert {p: (p.stat().st_ino, p.stat().st_mtime_ns) for p in [out, *out.rglob("*")]} == before


@pytest.mark.parametrize("meddle", ["change", "add", "add folder", "link", "link folder", "record", "hidden"])
def test_users_work_is_refused_then_kept(tmp_path: Path, swap: str, meddle: str) -> None:
    out = tmp_path / "a"
    write_package(out, sealed(OLD))
    named = {"change": "urdf/a.urdf", "add": "notes.txt", "add folder": "empty/", "link": "package.xml",
             "link folder": "mine", "record": RECORD, "hidden": "docs/.todo"}[meddle]
    place = out / named
    if meddle == "add folder":
        place.mkdir()
    elif meddle == "link":
        (tmp_path / "elsewhere").write_bytes(OLD["package.xml"])
        place.unlink()
        place.symlink_to(tmp_path / "elsewhere")
    elif meddle == "link folder":
        (tmp_path / "far").mkdir()
        (tmp_path / "far" / "precious").write_text("work")
        place.symlink_to(tmp_path / "far")
    elif meddle == "record":
        content = json.loads(place.read_text())
        content["files"]["urdf/a.urdf"] = hashlib.sha256(b"mine").hexdigest()
        place.write_text(json.dumps(content))
        (out / "urdf/a.urdf").write_bytes(b"mine")
    else:
        place.write_bytes(b"my own work")
    before = tree(out)
    with pytest.raises(TargetError, match=named.rstrip("/").replace(".", r"\.")):
        write_package(out, sealed(NEW))
    assert tree(out) == before
    result = write_package(out, sealed(NEW), replace=True)
    assert result.kept is not None
    assert tree(out) == as_dict(NEW)
    assert (result.kept / "COLCON_IGNORE").exists()
    kept = result.kept / named
    if meddle in ("change", "add", "hidden"):
        assert kept.read_bytes() == b"my own work"
    elif meddle == "record":
        assert (result.kept / "urdf/a.urdf").read_bytes() == b"mine"
    elif meddle == "add folder":
        assert kept.is_dir()
    else:
        assert kept.is_symlink()
    if meddle == "link folder":
        assert (tmp_path / "far" / "precious").read_text() == "work"
    again = write_package(out, sealed(OLD))
    assert again.kept is None


def test_a_second_replace_keeps_both_copies(tmp_path: Path) -> None:
    out = tmp_path / "a"
    write_package(out, sealed(OLD))
    for text, new in ((b"one", NEW), (b"two", OLD)):
        (out / "urdf/a.urdf").write_bytes(text)
        write_package(out, sealed(new), replace=True)
    assert (tmp_path / "a.kept-1/urdf/a.urdf").read_bytes() == b"one"
    assert (tmp_path / "a.kept-2/urdf/a.urdf").read_bytes() == b"two"


def test_what_python_leaves_beside_launch_files_is_nobodys_work(tmp_path: Path) -> None:
    out = tmp_path / "a"
    write_package(out, sealed(OLD))
    (out / "docs/__pycache__").mkdir()
    (out / "docs/__pycache__/show.pyc").write_bytes(b"x")
    write_package(out, sealed(NEW))
    assert tree(out) == as_dict(NEW)


@pytest.mark.parametrize("there", ["file", "folder", "foreign record"])
def test_what_we_did_not_make_is_refused_even_with_replace(tmp_path: Path, there: str) -> None:
    out = tmp_path / "a"
    if there == "file":
        out.write_bytes(b"mine")
    else:
        out.mkdir()
        (out / (RECORD if there == "foreign record" else "mine.txt")).write_bytes(b'{"name": "mine"}')
    for replace in (False, True):
        with pytest.raises(TargetError, match=r"a file|not written by"):
            write_package(out, sealed(NEW), replace=replace)
    assert os.listdir(tmp_path) == ["a"]


def test_a_link_to_the_folder_stays_a_link(tmp_path: Path, swap: str) -> None:
    (tmp_path / "disk").mkdir()
    write_package(tmp_path / "disk/real", sealed(OLD))
    (tmp_path / "link").symlink_to(tmp_path / "disk/real")
    write_package(tmp_path / "link", sealed(NEW))
    assert (tmp_path / "link").is_symlink()
    assert tree(tmp_path / "disk/real") == as_dict(NEW)


def test_a_link_in_place_of_our_hidden_folder_is_not_followed(tmp_path: Path) -> None:
    out = tmp_path / "a"
    (tmp_path / "precious").mkdir()
    (tmp_path / "precious/work").write_text("work")
    (tmp_path / ".a.chassis_describe-new").symlink_to(tmp_path / "precious")
    write_package(out, sealed(NEW))
    assert tree(out) == as_dict(NEW)
    assert (tmp_path / "precious/work").read_text() == "work"


@pytest.mark.parametrize("bad", ["/etc/x", "../x", "a/../x", "a\\b", "a//b", "./a"])
def test_paths_stay_inside(tmp_path: Path, bad: str) -> None:
    with pytest.raises(TargetError, match="inside the output folder"):
        write_package(tmp_path / "a", sealed({bad: b""}))


def test_two_files_on_one_name(tmp_path: Path) -> None:
    for names in (["x", "x"], ["meshes/A.stl", "meshes/a.stl"]):
        with pytest.raises(TargetError, match="two outputs"):
            write_package(tmp_path / "a", [*sealed({}), *(Artifact(path=n, data=b"") for n in names)])


def steps_of(out: Path, files: dict[str, bytes], **options: bool) -> list[str]:
    seen: list[str] = []
    write_package(out, sealed(files), step=seen.append, **options)
    return seen


def forked(out: Path, at: int, *, plain: bool, replace: bool = False) -> int:
    """Write NEW in a process of its own that ends, without any clean-up, before step number ``at``; its exit code."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    try:  # the child: never returns to pytest
        if plain:
            writing._exchange = lambda a, b: False
        left = at

        def step(name: str) -> None:
            nonlocal left
            left -= 1
            if left < 0:
                os._exit(77)

        write_package(out, sealed(NEW), step=step, replace=replace)
        os._exit(0)
    finally:
        os._exit(99)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to end a process in the middle")
def test_killed_at_every_step_either_package_is_whole(tmp_path: Path, swap: str) -> None:
    plain = swap == "two renames"
    count = len(steps_of(_old_at(tmp_path / "count"), NEW))
    assert count > 20
    exits = set()
    for at in range(count + 1):
        out = _old_at(tmp_path / f"run{at}" / "a")
        exits.add(forked(out, at, plain=plain))
        aside = out.with_name(".a.chassis_describe-old")
        whole = tree(out if out.exists() else aside)
        assert whole in (as_dict(OLD), as_dict(NEW)), f"killed before step {at}"
        # The next run puts things right, whatever the first left.
        write_package(out, sealed(NEW))
        assert tree(out) == as_dict(NEW)
        assert os.listdir(out.parent) == ["a"]
    assert exits == {77, 0}, "every run but the last was killed"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to end a process in the middle")
def test_killed_while_replacing_the_users_work_is_still_there(tmp_path: Path, swap: str) -> None:
    plain = swap == "two renames"
    for at in range(60):
        out = _old_at(tmp_path / f"run{at}" / "a")
        (out / "urdf/a.urdf").write_bytes(b"my own work")
        code = forked(out, at, plain=plain, replace=True)
        everywhere = [p.read_bytes() for p in out.parent.rglob("a.urdf")]
        assert b"my own work" in everywhere, f"killed before step {at}"
        if code == 0:
            return
    pytest.fail("the run never came to its end")


def test_the_disk_refuses_at_every_step(tmp_path: Path, swap: str) -> None:
    names = steps_of(_old_at(tmp_path / "count"), NEW)
    committed = names.index("sync parent")
    for at, name in enumerate(names):
        out = _old_at(tmp_path / f"run{at}" / "a")
        left = at

        def step(name: str) -> None:
            nonlocal left
            left -= 1
            if left < 0:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        if at < committed:
            with pytest.raises(TargetError, match="No space left"):
                write_package(out, sealed(NEW), step=step)
            assert tree(out) == as_dict(OLD), f"refused at {name}"
        else:  # the new package is in place: cleaning up can't undo that
            result = write_package(out, sealed(NEW), step=step)
            assert result.leftover is not None
            assert result.leftover[0].parent == out.parent
            assert "No space left" in result.leftover[1]
            assert tree(out) == as_dict(NEW), f"refused at {name}"
        write_package(out, sealed(NEW))
        assert os.listdir(out.parent) == ["a"], f"refused at {name}"


def _with_repository(out: Path, *, empty: bool = False) -> Path:
    """An old package, or nothing, that is the top of a repository (made by hand: only that it stays matters)."""
    if not empty:
        _old_at(out)
    for name in (".git", ".hg"):
        (out / name / "objects/ab").mkdir(parents=True)
        (out / name / "HEAD").write_bytes(b"ref: refs/heads/main")
        (out / name / "objects/ab/cd").write_bytes(b"history")
    return out


_HISTORY = {f"{name}/{file}": data for name in (".git", ".hg")
            for file, data in (("HEAD", b"ref: refs/heads/main"), ("objects/ab/cd", b"history"))}


@pytest.mark.parametrize("empty", [False, True])
def test_a_folder_that_is_a_repository_stays_one(tmp_path: Path, swap: str, empty: bool) -> None:
    out = _with_repository(tmp_path / "a", empty=empty)
    inode = (out / ".git").stat().st_ino
    result = write_package(out, sealed(NEW))
    assert tree(out) == {**as_dict(NEW), **_HISTORY}
    assert (out / ".git").stat().st_ino == inode, "moved, not copied"
    assert not [p for p in (*result.written, *result.removed) if p.startswith((".git", ".hg"))]
    (out / "urdf/a.urdf").write_bytes(b"my own work")
    (out / ".gitignore").write_bytes(b"build/")  # a file of the user's like any other
    with pytest.raises(TargetError, match=r"\.gitignore\n  urdf/a\.urdf\n"):
        write_package(out, sealed(OLD))
    assert tree(out) == {**as_dict(NEW), **_HISTORY, "urdf/a.urdf": b"my own work", ".gitignore": b"build/"}
    kept = write_package(out, sealed(OLD), replace=True).kept
    assert tree(out) == {**as_dict(OLD), **_HISTORY}
    assert kept is not None
    assert {".gitignore", "urdf/a.urdf"} <= set(tree(kept))
    (out / "docs/.git").mkdir()  # not at the top: the user's
    with pytest.raises(TargetError, match=r"docs/\.git/"):
        write_package(out, sealed(NEW))


def test_a_worktree_whose_repository_is_a_file(tmp_path: Path, swap: str) -> None:
    """gitrepository-layout(5): ``.git`` may be a text file that names the true one, as in worktrees and submodules."""
    out = _old_at(tmp_path / "a")
    (out / ".git").write_bytes(b"gitdir: ../main/.git/worktrees/a")
    write_package(out, sealed(NEW))
    assert tree(out) == {**as_dict(NEW), ".git": b"gitdir: ../main/.git/worktrees/a"}
    assert os.listdir(tmp_path) == ["a"]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to end a process in the middle")
@pytest.mark.parametrize("empty", [False, True])
def test_killed_at_every_step_the_repository_is_not_lost(tmp_path: Path, swap: str, empty: bool) -> None:
    plain = swap == "two renames"
    between = 0
    first = steps_of(_with_repository(tmp_path / "count", empty=empty), NEW).index("sync folders")  # before: only beside it
    for at in range(first, 80):
        out = _with_repository(tmp_path / f"run{at}" / "a", empty=empty)
        code = forked(out, at, plain=plain)
        assert code in (0, 77)
        there = [p for p in out.parent.iterdir() if (p / ".git/objects/ab/cd").is_file()]
        assert len(there) == 1, f"killed before step {at}"
        between += there != [out]
        # The next run has it in its place before anything else.
        for files in (OLD, NEW):
            write_package(out, sealed(files))
            assert tree(out) == {**as_dict(files), **_HISTORY}, f"killed before step {at}"
        assert os.listdir(out.parent) == ["a"]
        if code == 0:
            break
    else:
        pytest.fail("the run never came to its end")
    assert between, "one run at least was killed between the exchange and the move"


def test_the_disk_refuses_while_there_is_a_repository(tmp_path: Path, swap: str) -> None:
    names = steps_of(_with_repository(tmp_path / "count"), NEW)
    assert {"move .git", "move .hg"} <= set(names)
    for at, name in list(enumerate(names))[names.index("sync folders"):]:
        out = _with_repository(tmp_path / f"run{at}" / "a")
        left = at

        def step(name: str) -> None:
            nonlocal left
            left -= 1
            if left < 0:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        if at < names.index("sync parent"):
            with pytest.raises(TargetError, match="No space left"):
                write_package(out, sealed(NEW), step=step)
            assert tree(out) == {**as_dict(OLD), **_HISTORY}, f"refused at {name}: back to where it was"
        else:
            assert write_package(out, sealed(NEW), step=step).leftover is not None
            assert tree(out) == {**as_dict(NEW), **_HISTORY}, f"refused at {name}"
        write_package(out, sealed(NEW))
        assert os.listdir(out.parent) == ["a"], f"refused at {name}"


def test_two_repositories_of_one_place_are_both_kept(tmp_path: Path) -> None:
    """The user made another after a run was killed that had left the first in the hidden folder."""
    out = _with_repository(tmp_path / "a")
    (tmp_path / ".a.chassis_describe-new/.git").mkdir(parents=True)
    (tmp_path / ".a.chassis_describe-new/.git/HEAD").write_bytes(b"the first")
    write_package(out, sealed(NEW))
    assert tree(out) == {**as_dict(NEW), **_HISTORY}
    assert (tmp_path / "a.kept-1/.git/HEAD").read_bytes() == b"the first"


def test_an_edit_at_the_last_moment_is_not_lost(tmp_path: Path, swap: str) -> None:
    """The user saves a file between our look at the folder and the exchange."""
    out = _old_at(tmp_path / "a")

    def step(name: str) -> None:
        if name in ("exchange", "rename old"):
            # As editors save: a new file under the old name.
            (tmp_path / "saved").write_bytes(b"my own work")
            (tmp_path / "saved").rename(out / "urdf/a.urdf")

    if swap == "two renames":
        with pytest.raises(TargetError, match=r"urdf/a\.urdf"):
            write_package(out, sealed(NEW), step=lambda n: step("exchange") if n == "exchange" else None)
    else:
        with pytest.raises(TargetError, match=r"urdf/a\.urdf"):
            write_package(out, sealed(NEW), step=step)
    assert tree(out) == {**as_dict(OLD), "urdf/a.urdf": b"my own work"}
    assert os.listdir(tmp_path) == ["a"]


def test_two_runs_at_once(tmp_path: Path) -> None:
    out = _old_at(tmp_path / "a")
    problems: list[BaseException] = []

    def run(files: dict[str, bytes]) -> None:
        try:
            for _ in range(5):
                write_package(out, sealed(files))
        except BaseException as error:
            problems.append(error)

    threads = [threading.Thread(target=run, args=(files,)) for files in (OLD, NEW)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not problems
    assert tree(out) in (as_dict(OLD), as_dict(NEW))
    assert os.listdir(tmp_path) == ["a"]


def test_a_folder_that_may_not_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(TargetError, match="nothing was changed"):
        write_package(tmp_path / "file" / "a", sealed(NEW))


def test_the_same_files_have_the_same_record_in_any_order() -> None:
    files = [Artifact(path=p, data=d) for p, d in NEW.items()]
    one = record(files, version="1", robot="a", inputs={"b": b"", "a": b"1"})
    two = record(files[::-1], version="1", robot="a", inputs={"a": b"1", "b": b""})
    assert one == two
    # hashlib is the reference for each entry.
    assert recorded_files(one.data) == {p: hashlib.sha256(d).hexdigest() for p, d in NEW.items()}


def _old_at(out: Path) -> Path:
    write_package(out, sealed(OLD))
    return out


def test_what_cannot_be_removed_is_named_and_the_next_run_gets_past_it(tmp_path: Path, swap: str,
                                                                      monkeypatch: pytest.MonkeyPatch) -> None:
    """As with a `__pycache__` that a container made as root: here removing refuses by its name, whoever asks."""
    out = _old_at(tmp_path / "a")
    (out / "urdf" / "__pycache__").mkdir()
    (out / "urdf" / "__pycache__" / "show.pyc").write_bytes(b"compiled")
    real = os.unlink

    def unlink(path: object, **more: object) -> None:
        if "show.pyc" in os.fspath(path):  # type: ignore[call-overload]
            raise PermissionError(errno.EACCES, "Permission denied", os.fspath(path))  # type: ignore[call-overload]
        real(path, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "unlink", unlink)
    result = write_package(out, sealed(NEW))
    assert tree(out) == as_dict(NEW)
    assert result.leftover is not None
    assert "Permission denied" in result.leftover[1]
    assert result.kept is None
    for files in (OLD, NEW, OLD):
        assert write_package(out, sealed(files)).written
        assert tree(out) == as_dict(files)
    assert not [name for name in os.listdir(tmp_path) if ".kept-" in name]
    monkeypatch.setattr(os, "unlink", real)
    write_package(out, sealed(NEW))
    assert os.listdir(tmp_path) == ["a"]  # now it can be removed


@pytest.mark.parametrize("gone", [["docs/gone.md"], ["urdf/a.urdf", "docs/gone.md"], ["package.xml", "meshes/deck.stl"]])
def test_what_a_killed_clean_up_left_is_not_the_users_work(tmp_path: Path, gone: list[str]) -> None:
    """Files are removed before their folder: killed between the two, an empty folder of ours is left."""
    out = _old_at(tmp_path / "a")
    rest = _old_at(tmp_path / ".a.chassis_describe-new")
    for name in gone:
        (rest / name).unlink()
    write_package(out, sealed(NEW))
    assert os.listdir(tmp_path) == ["a"]


@pytest.mark.parametrize("when", ["make folder", "exchange", "exchanged"])
def test_a_listed_file_that_is_edited_again_is_not_lost(tmp_path: Path, swap: str, when: str) -> None:
    """With --replace: saved once more between our copy and the exchange, or right behind it."""
    if when == "exchanged" and swap != "exchange":
        return  # where folders can't be exchanged there is no such step
    out = _old_at(tmp_path / "a")
    (out / "urdf/a.urdf").write_bytes(b"first edit")

    def step(name: str) -> None:
        if name == when:
            place = tmp_path / ".a.chassis_describe-new" if name == "exchanged" else out
            (place / "urdf/a.urdf").write_bytes(b"second edit")

    with pytest.raises(TargetError, match=r"urdf/a\.urdf"):
        write_package(out, sealed(NEW), replace=True, step=step)
    assert tree(out) == {**as_dict(OLD), "urdf/a.urdf": b"second edit"}
    result = write_package(out, sealed(NEW), replace=True)
    assert result.kept is not None
    assert (result.kept / "urdf/a.urdf").read_bytes() == b"second edit"


def test_an_edit_after_the_exchange_is_kept(tmp_path: Path) -> None:
    """An editor that still has the old folder open saves into it before it is removed."""
    out = _old_at(tmp_path / "a")

    def step(name: str) -> None:
        if name == "sync parent":
            (tmp_path / ".a.chassis_describe-new/urdf/a.urdf").write_bytes(b"late edit")

    if not writing._exchange(out, out):
        pytest.skip("needs an exchange")
    result = write_package(out, sealed(NEW), step=step)
    assert tree(out) == as_dict(NEW)
    assert result.kept is not None
    assert (result.kept / "urdf/a.urdf").read_bytes() == b"late edit"
