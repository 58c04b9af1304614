"""Files that are saved in the ways in which editors save, by the system's notice and by looking (common practice of editors:
written in place, written beside and renamed, a backup first). Nothing here asks how long it takes, only that it is told."""
from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from chassis_describe.live import watch
from chassis_describe.live.watch import Watch


class Heard:
    """What a file held each time that the watch told of a change."""

    def __init__(self, file: Path, poll: float) -> None:
        self.file, self.texts, self.new = file, list[str | None](), threading.Condition()
        self.watch = Watch(self._read, poll=poll)
        self.watch.follow([str(file)])

    def _read(self) -> None:
        with self.new:
            self.texts.append(self.file.read_text() if self.file.exists() else None)
            self.new.notify_all()

    def wait(self, text: str | None) -> None:
        """Until it was told while the file held ``text``."""
        with self.new:
            assert self.new.wait_for(lambda: self.texts[-1:] == [text], timeout=60), self.texts


@pytest.fixture(params=[0.0, 0.05], ids=["notice", "looking"])
def heard(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Heard]:
    folder = tmp_path / "robot"
    folder.mkdir()
    (folder / "layout.yaml").write_text("old")
    listener = Heard(folder / "layout.yaml", request.param)
    yield listener
    listener.watch.close()


def test_every_way_of_saving_is_told(heard: Heard) -> None:
    file = heard.file
    file.write_text("in place")
    heard.wait("in place")
    beside = file.with_suffix(".new")
    beside.write_text("renamed")
    beside.replace(file)
    heard.wait("renamed")
    file.rename(file.with_suffix(".bak"))  # a backup first
    file.write_text("after a backup")
    heard.wait("after a backup")
    file.unlink()
    heard.wait(None)
    file.write_text("restored")
    heard.wait("restored")


def test_a_folder_that_is_replaced_is_followed_by_its_path(heard: Heard) -> None:
    folder = heard.file.parent
    other = folder.with_name("other")
    shutil.copytree(folder, other)
    (other / "layout.yaml").write_text("of the other folder")
    folder.rename(folder.with_name("away"))
    other.rename(folder)
    heard.wait("of the other folder")
    heard.file.write_text("written in it")
    heard.wait("written in it")
    shutil.rmtree(folder)
    heard.wait(None)
    folder.mkdir()
    heard.file.write_text("made anew")
    heard.wait("made anew")


def test_a_link_is_followed_to_its_file(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "layout.yaml").write_text(name)
    link = tmp_path / "layout.yaml"
    link.symlink_to("one/layout.yaml")
    listener = Heard(link, 0.0)
    try:
        (tmp_path / "one" / "layout.yaml").write_text("through the link")
        listener.wait("through the link")
        (tmp_path / "new").symlink_to("two/layout.yaml")
        (tmp_path / "new").replace(link)
        listener.wait("two")
        (tmp_path / "two" / "layout.yaml").write_text("in the second")
        listener.wait("in the second")
    finally:
        listener.watch.close()


def test_a_half_written_file_is_waited_for(heard: Heard) -> None:
    """A writer that cuts the file off, writes half of it, and rests before the other half. The system says when a writer closes
    its file; without it, a file that has become shorter is waited for."""
    heard.file.write_text("a layout, as long as it usually is")
    heard.wait("a layout, as long as it usually is")
    with heard.file.open("w") as writer:
        for part in ("the first half", ", the second half of it"):
            writer.write(part)
            writer.flush()
            time.sleep(0.2)  # far less than the rest that is waited for, since this thread may be late
    heard.wait("the first half, the second half of it")
    assert "the first half" not in heard.texts


def test_a_writer_that_never_closes_is_named_and_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It may be at rest for long; then what it wrote is taken, since it may never close."""
    file = tmp_path / "layout.yaml"
    file.write_text("old")
    listener = Heard(file, 0.0)
    if not listener.watch.by_notice:
        pytest.skip("inotify(7) is Linux's")
    try:
        with file.open("w") as writer:
            writer.write("new")
            writer.flush()
            while not listener.watch.being_written(0.05):
                time.sleep(0.01)
            assert listener.watch.being_written(0.05) == [str(file)]
            assert listener.watch.stirring
            monkeypatch.setattr(watch, "OPEN", 0.1)
            writer.write("er")
            writer.flush()
            listener.wait("newer")
            assert listener.watch.being_written(0.0) == []
    finally:
        listener.watch.close()


def test_of_many_saves_the_last_is_told(heard: Heard) -> None:
    for number in range(200):
        heard.file.write_text(str(number))
    heard.wait("199")


def test_other_files_beside_it_are_nothing(tmp_path: Path) -> None:
    file = tmp_path / "layout.yaml"
    file.write_text("old")
    listener = Heard(file, 0.0)
    try:
        (tmp_path / ".layout.yaml.swp").write_text("an editor's own")
        (tmp_path / "layout.yaml~").write_text("a backup")
        time.sleep(0.4)
        assert not listener.texts
        file.write_text("new")
        listener.wait("new")
    finally:
        listener.watch.close()
