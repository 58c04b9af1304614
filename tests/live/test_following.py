"""What is read anew and kept, without any ROS: good layouts, bad ones, all files that are followed."""
from __future__ import annotations

import shutil
import threading
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.findings import Severity
from chassis_describe.fit import LATE_CHECKS
from chassis_describe.live.following import Bad, Following, Good
from chassis_describe.live.telling import Telling, Worked

TOP = Path(__file__).resolve().parents[2]
#: What the rules say that wait until a save is published.
LATE_CODES = {"camera-sees-robot", "cloud-sees-robot", "cone-hits-robot", "cone-hits-floor", "looks-elsewhere", "blind-sector",
              "wheel-rubs", "clear-space-taken", "implausible", "hole-near-edge", "head-over-edge", "range-blocked",
              "caster-swing-blocked"}


def keep(following: Following) -> Good:
    """Read and published."""
    found = following.read()
    assert isinstance(found, Good)
    following.keep(found)
    return found


@pytest.fixture
def layout(tmp_path: Path) -> Path:
    return Path(shutil.copy(TOP / "config" / "seedling_cart.yaml", tmp_path / "cart.yaml"))


def test_only_what_reads_and_has_no_errors_becomes_the_good_one(layout: Path) -> None:
    following = Following(str(layout))
    first = keep(following)
    assert first.urdf == cd.urdf(cd.assemble(cd.read(layout)))
    assert following.read() is None, "every byte is as it was"
    text = layout.read_text()
    layout.write_text(text + "nonsense: 1\n")
    bad = following.read()
    assert isinstance(bad, Bad)
    line = len(text.splitlines()) + 1
    assert bad.words.startswith(f"{layout}:{line}:1: error")
    assert following.good is first
    layout.unlink()
    gone = following.read()
    assert isinstance(gone, Bad)
    assert str(layout) in gone.words
    layout.write_text(text)
    assert isinstance(following.read(), Good)


def test_errors_of_the_check_keep_it_from_being_published(layout: Path) -> None:
    following = Following(str(layout))
    good = keep(following)
    layout.write_text(layout.read_text().replace("at: [1.5, 1], points: left", "at: [1.7, 1], points: left"))  # beside its holes
    found = following.read()
    assert isinstance(found, Bad)
    assert {f.code for f in found.findings if f.severity is Severity.ERROR} >= {"bolt-off-hole"}
    assert following.good is good


def test_warnings_count_where_one_is_strict() -> None:
    """A layout whose one finding is a warning, of the check's own examples."""
    layout = str(TOP / "tests" / "fit" / "bad" / "weighed-differs.yaml")
    assert isinstance(Following(layout).read(), Good)
    found = Following(layout, strict=True).read()
    assert isinstance(found, Bad)
    assert [f.code for f in found.findings] == ["weighed-differs"]


def test_every_file_that_is_opened_is_an_input(layout: Path) -> None:
    """Layout, overlay, part file and mesh, there or not; of a layout that does not read, those of before too."""
    folder = layout.parent
    (folder / "parts.yaml").write_text("parts:\n  plinth:\n    mass: 20\n    bolts: [[0, 0], [20, 0]]\n"
                                       "    bodies: [{box: [40, 20, 10], at: [10, 0, 5]}, {mesh: plinth.stl}]\n")
    overlay = folder / "over.yaml"
    overlay.write_text("catalogue: [parts.yaml]\nplacements:\n  plinth: {part: plinth, on: plate, at: [-1, -0.5]}\n")
    following = Following(str(layout), [str(overlay)])
    following.read()
    assert {Path(p).name for p in following.inputs} >= {"cart.yaml", "over.yaml", "parts.yaml", "plinth.stl"}
    layout.write_text("x: [")
    following.read()
    assert {Path(p).name for p in following.inputs} >= {"cart.yaml", "over.yaml", "parts.yaml", "plinth.stl"}


def test_what_is_told_is_compared_with_the_last_good_one(layout: Path) -> None:
    following = Following(str(layout))
    keep(following)
    told = following.told()
    assert told is not None
    assert told.change is None
    assert following.told() is None
    assert set(told.findings) == set(cd.check(cd.assemble(cd.read(layout))))
    hasty = Following(str(layout))  # a save before the start was told of: listeners know the start all the same
    keep(hasty)
    layout.write_text(layout.read_text().replace("  ranger: ", "  sonar: "))
    keep(hasty)
    told = hasty.told()
    assert told is not None
    assert told.change is not None
    assert ("ranger_link", "sonar_link") in told.change.renamed


def test_rules_left_to_the_end_find_no_errors() -> None:
    """What decides about publishing finds the errors that the whole check finds: over the check's own examples of what these
    rules say."""
    said: set[str] = set()
    for path in sorted((TOP / "tests" / "fit" / "bad").glob("*.yaml")):
        if path.stem.split("--")[0] not in LATE_CODES:
            continue
        assembly = cd.assemble(cd.read(path))
        for rule in LATE_CHECKS:
            for item in rule(assembly):
                said.add(item.code)
                assert item.severity is not Severity.ERROR, (path, item)
    assert said >= LATE_CODES


def test_telling_stops_for_what_is_more_urgent(layout: Path) -> None:
    """Between two rules; what was asked before is not asked again."""
    following = Following(str(layout))
    keep(following)
    asked = iter([False] * 5 + [True])
    assert following.told(lambda: next(asked)) is None
    told = following.told()
    assert told is not None
    assert list(told.findings) == cd.check(cd.assemble(cd.read(layout)))


def test_telling_goes_on_beside_and_says_when_it_was_stopped(layout: Path) -> None:
    """In a thread; a layout that is published meanwhile stops it, and a fault of ours is words."""
    following, ready, urgent = Following(str(layout)), threading.Event(), [False]
    telling = Telling(following, urgent=lambda: urgent[0], ready=ready.set)

    def worked(good: Good) -> Worked:
        ready.clear()
        telling.start(good)
        assert telling.running
        assert ready.wait(60)
        found = telling.take()
        assert found is not None
        assert not telling.running
        return found

    first = keep(following)
    urgent[0] = True
    assert worked(first) == Worked(first, stopped=True)
    urgent[0] = False
    found = worked(first)
    assert found.told is not None
    assert list(found.told.findings) == cd.check(first.assembly)
    layout.write_text(layout.read_text().replace("  ranger: ", "  sonar: "))
    keep(following)
    assert worked(first).stopped, "another one is published"
    following.told = lambda stop: 1 / 0  # type: ignore[method-assign, assignment, return-value]
    assert "fault of this program" in worked(first).fault


def test_what_was_read_while_somebody_wrote_is_torn(layout: Path) -> None:
    following = Following(str(layout))
    following.read()
    assert not following.torn()
    with layout.open("a") as writer:
        writer.write("# more\n")
    assert following.torn()
    following.read()
    beside = layout.with_suffix(".new")
    beside.write_text(layout.read_text() + "# another file in its place, so the old one was read whole\n")
    beside.replace(layout)
    assert following.outdated()
    assert not following.torn()
