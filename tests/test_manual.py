"""README and manual are run: every file that they show, every command in its order, every output; tables and links."""
from __future__ import annotations

import re
import shutil
import subprocess
from importlib.util import find_spec
from pathlib import Path

import pytest
import yaml

import chassis_describe as cd
from chassis_describe.cli.main import main
from chassis_describe.findings import CODES, Severity
from chassis_describe.layout.starter import starter
from chassis_describe.manual.chapters import CHAPTERS, FOLDER, chapter
from chassis_describe.manual.tables import filled
from tests.documents import DOCUMENTS, TOP, Command, File, steps

TEXTS = {name: path.read_text(encoding="utf-8") for name, path in DOCUMENTS.items()}


#: A plate whose STL the chapter of parts begins a part file from.
EAR = """\
layout: 1
robot: ear_plate
lattice: {pitch: 200, hole: 3.5, screw: M3}
decks:
  ear:
    outline: {rectangle: [60, 40], corner: 4}
    thickness: 3
    material: acrylic
    cutouts: [{circle: 16}]
    drilled: [{at: [-24, -14], hole: 3.2}, {at: [-24, 14], hole: 3.2}, {at: [24, -14], hole: 3.2}, {at: [24, 14], hole: 3.2},
              {at: [0, -14], slot: [13.2, 3.2]}, {at: [0, 15], hole: 6.4}]
"""


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder as a reader has it: the robots of ``config/``, a starter, a mesh, and a repository with their history."""
    (tmp_path / "robots").mkdir()
    for folder in (tmp_path, tmp_path / "robots"):
        shutil.copytree(TOP / "config", folder, dirs_exist_ok=True)
    shutil.copy(TOP / "config" / "draught_scout.yaml", tmp_path / "robots" / "scout.yaml")
    (tmp_path / "robot.yaml").write_text(starter("robot"))
    (tmp_path / "hall_sweeper.yaml").write_text(starter("hall_sweeper"))
    (tmp_path / "ear_plate.yaml").write_text(EAR)
    assert main(["draw", str(tmp_path / "ear_plate.yaml"), "--deck", "ear", "-o", str(tmp_path / "motor_ear.stl")]) == 0
    for words in (["init", "-q", "-b", "main"], ["add", "."], ["commit", "-q", "-m", "as built"], ["tag", "v1.2"],
                  ["update-ref", "refs/remotes/origin/main", "HEAD"]):
        subprocess.run(["git", "-c", "user.name=reader", "-c", "user.email=reader@example.org", *words], cwd=tmp_path, check=True)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GITHUB_BASE_REF", "main")
    return tmp_path


@pytest.mark.parametrize("name", TEXTS)
def test_it_can_be_followed(name: str, desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    todo = list(steps(TEXTS[name]))
    for step in todo:
        if isinstance(step, File) and step.name is not None and not step.text.split("\n", 1)[1].startswith("layout:"):
            (desk / step.name).write_text(step.text)  # text often names a file before it shows it
            if (desk / "robots").is_dir():
                (desk / "robots" / step.name).write_text(step.text)
    without = plate_files(todo) if find_spec("ezdxf") is None else set()
    for step in todo:
        if isinstance(step, File):
            if step.name not in without:
                is_right(step, desk)
        elif not without.intersection(step.words):
            runs(step, desk, capsys)


def plate_files(todo: list[Command | File]) -> set[str | None]:
    """The layouts with decks from DXF files, which can't be read without ezdxf."""
    return {step.name for step in todo if isinstance(step, File) and re.search(r"file: \S+\.dxf", step.text)}


def is_right(file: File, desk: Path) -> None:
    content = yaml.safe_load(file.text)
    if file.name is not None:
        (desk / file.name).write_text(file.text)
    if "layout" in content:
        found = cd.check(cd.assemble(cd.read(file.name or "layout.yaml", text=file.text)))
    elif file.base is not None and file.name is not None:
        found = cd.check(cd.assemble(cd.read(file.base, overlays=[file.name])))
    else:
        assert file.name is not None or not content.keys() & {"decks", "placements"}, "a file that nothing is laid over by"
        return
    assert [str(f) for f in found if f.severity is not Severity.NOTE] == [], file.text


def runs(command: Command, desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import os

    words = [os.path.expandvars(word) for word in command.words]
    if words[0] == "new":
        (desk / f"{words[1]}.yaml").unlink(missing_ok=True)
    capsys.readouterr()
    code = main(words)
    out = capsys.readouterr()
    if code == 2 and "is not installed" in out.err and os.environ.get("CHASSIS_DESCRIBE_JUDGES") != "required":
        return  # an extra of the package; where judges are required, all of them are there
    assert code == command.code, (words, out.err)
    if command.output is not None:
        pattern = ".*".join(re.escape(part) for part in re.split(r"^…\n", command.output, flags=re.MULTILINE))
        assert re.fullmatch(pattern, out.out, re.DOTALL), f"{words} printed\n{out.out}"


def test_there_is_something_to_run() -> None:
    commands = {name: [s for s in steps(text) if isinstance(s, Command)] for name, text in TEXTS.items()}
    assert len(commands["README"]) >= 8
    assert len(commands["changes"]) >= 8
    assert any(c.output for c in commands["README"])


@pytest.mark.parametrize("name", CHAPTERS)
def test_generated_tables_are_up_to_date(name: str) -> None:
    assert filled(name, TEXTS[name]) == TEXTS[name], "run: python3 -m chassis_describe.manual"


def test_every_chapter_is_listed_and_there() -> None:
    assert sorted(CHAPTERS) == sorted(p.stem for p in FOLDER.glob("*.md"))
    for name in CHAPTERS:
        one = chapter(name)
        assert one.about.endswith(".")
        assert len(one.about) < 120
        assert f"chassis_describe/manual/{name}.md" in TEXTS["README"], f"the README's list has no {name}"


def headings(text: str) -> set[str]:
    """The anchors that a Markdown page offers (as GitHub makes them; from memory)."""
    return {re.sub(r"[^\w -]", "", h.lower()).replace(" ", "-") for h in re.findall(r"^#+ (.*)$", text, re.MULTILINE)}


@pytest.mark.parametrize("name", TEXTS)
def test_links_lead_somewhere(name: str) -> None:
    here = DOCUMENTS[name]
    for target in re.findall(r"\]\((?!http)([^)]+)\)", TEXTS[name]):
        file, _, anchor = target.partition("#")
        path = (here.parent / file) if file else here
        assert path.exists(), target
        assert not anchor or anchor in headings(path.read_text(encoding="utf-8")), target


def shown(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["manual", *words]) == 0
    return capsys.readouterr().out


def test_manual_lists_chapters(capsys: pytest.CaptureFixture[str]) -> None:
    text = shown(capsys)
    assert all(f"  {name} " in text for name in CHAPTERS)


@pytest.mark.parametrize("name", CHAPTERS)
def test_manual_shows_a_chapter_without_marks(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    text = shown(capsys, name)
    assert f"# {chapter(name).title}\n" in text
    assert "<!--" not in text


@pytest.mark.parametrize("code", CODES)
def test_manual_explains_every_finding(code: str, capsys: pytest.CaptureFixture[str]) -> None:
    text = shown(capsys, code)
    assert f"`{code}`" in text
    assert CODES[code].says in text
    assert code not in ("hole-near-edge", "tips-early") or "checks: {limits: {" in text


def test_manual_says_what_a_key_means(capsys: pytest.CaptureFixture[str]) -> None:
    text = shown(capsys, "lift")
    assert "## A placement" in text
    assert "| `lift` | length, mm | Height of the spacers between support and part. Default: 0. |" in text
    assert "| `turn` |" not in text
    text = shown(capsys, "at")
    assert "## A placement" in text
    assert "## A body" in text
    assert "At most one of `screws`, `at`." in text


def test_manual_of_nothing_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["manual", "bolt-of-hole"]) == 2
    assert "did you mean `bolt-off-hole`?" in capsys.readouterr().err
    assert main(["manual", "qqqqqq"]) == 2
    assert "lists the chapters" in capsys.readouterr().err
