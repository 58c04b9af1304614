"""A plate file is an input like any other: robots, packages, revisions and followers that see it, and see it change."""
from __future__ import annotations

import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import main
from chassis_describe.compiler import files_read
from chassis_describe.disk.package import write_package
from chassis_describe.documents import documents
from chassis_describe.live.following import Bad, Following, Good
from chassis_describe.targets import package_artifacts
from tests.layout.plate_files import box, circles, dxf

pytest.importorskip("ezdxf")
CONFIG = Path(__file__).resolve().parents[2] / "config"
#: The demo's plate: 180 long, 120 wide, so 120 to the right on the page and 180 up.
GRID = [(60 - (10 + 20 * j), 90 + 20 * i) for i in range(-4, 5) for j in range(-3, 3)]  # its lattice's origin is [0, 10]
OVER = "decks:\n  plate:\n    outline: {rectangle: ~, corner: ~, file: FILE}\n"


@cache  # ezdxf writes the time into a file
def tray(missing: tuple[float, float] | None = None) -> bytes:
    def draw(space: object) -> None:
        b = 0.41421356237309503  # tan(90°/4): a quarter of a circle
        space.add_lwpolyline([(8, 0, 0), (112, 0, b), (120, 8, 0), (120, 172, b), (112, 180, 0), (8, 180, b), (0, 172, 0),  # type: ignore[attr-defined]
                              (0, 8, b)], format="xyb", close=True)
        circles(space, [p for p in GRID if p != missing])

    return dxf(draw)


@pytest.fixture
def cart(tmp_path: Path) -> Path:
    """The demo with its plate from a drawing in a folder beside."""
    home = tmp_path / "robot"
    home.mkdir()
    shutil.copy(CONFIG / "seedling_cart.yaml", home / "cart.yaml")
    (tmp_path / "drawings").mkdir()
    (tmp_path / "drawings" / "tray.dxf").write_bytes(tray())
    (home / "drawn.yaml").write_text(OVER.replace("FILE", "../drawings/tray.dxf"))
    return home


def test_a_demo_with_its_plate_from_a_drawing_is_the_same_robot(cart: Path) -> None:
    written = cd.assemble(cd.read(cart / "cart.yaml"))
    drawn = cd.assemble(cd.read(cart / "cart.yaml", overlays=[cart / "drawn.yaml"]))
    assert cd.urdf(drawn) == cd.urdf(written)
    assert set(drawn.decks["plate"].plate.holes) == set(written.decks["plate"].plate.holes)
    path = str(cart / ".." / "drawings" / "tray.dxf")
    assert [str(Path(p).resolve()) for p in files_read(drawn)][-1] == str(Path(path).resolve())
    assert drawn.layout.files[-1].data == tray()
    found = {f.code for f in cd.check(drawn)} - {f.code for f in cd.check(written)}
    assert found == {"plate-read"}


@pytest.mark.parametrize("where", ["tray.dxf", "drawings/Tray One.DXF", "../drawings/tray.dxf"])
def test_a_package_reproduces_itself(where: str, cart: Path, tmp_path: Path) -> None:
    """From its own copies of layout, overlay and plate file, to the last byte."""
    (cart / where).parent.mkdir(exist_ok=True)
    (cart / where).write_bytes(tray())
    (cart / "drawn.yaml").write_text(OVER.replace("FILE", f'"{where}"'))

    def compiled(folder: Path) -> dict[str, bytes]:
        assembly = cd.assemble(cd.read(folder / "cart.yaml", overlays=[folder / "drawn.yaml"]))
        return {a.path: a.data for a in package_artifacts(assembly)}

    first = compiled(cart)
    copy = "layout/plates/tray.dxf" if where.startswith("..") else f"layout/{where}"
    assert first[copy] == tray()
    for name, data in first.items():
        (tmp_path / "package" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "package" / name).write_bytes(data)
    again = compiled(tmp_path / "package" / "layout")
    assert sorted(again) == sorted(first)
    assert [name for name in first if first[name] != again[name]] == []


def test_written_and_written_again(cart: Path, tmp_path: Path) -> None:
    """The whole package with its papers, on the disk; without a change nothing is written."""
    assembly = cd.assemble(cd.read(cart / "cart.yaml", overlays=[cart / "drawn.yaml"]))
    files = package_artifacts(assembly, documents(assembly, tuple(cd.check(assembly))))
    write_package(tmp_path / "out", files)
    assert (tmp_path / "out" / "layout" / "plates" / "tray.dxf").read_bytes() == tray()
    assert not write_package(tmp_path / "out", files).written


def test_followers_see_it_change(cart: Path) -> None:
    """What is saved without errors is taken; half a file, or a plate without a hole that is used, is not."""
    following = Following(str(cart / "cart.yaml"), [str(cart / "drawn.yaml")])
    plate = cart.parent / "drawings" / "tray.dxf"
    assert isinstance(following.read(), Good)
    assert str(plate) in following.inputs
    plate.write_bytes(tray()[:-40])
    bad = following.read()
    assert isinstance(bad, Bad) and "ends too early" in bad.words
    plate.write_bytes(tray(missing=(90, 130)))  # [2, -2], where motor_right is bolted
    bad = following.read()
    assert isinstance(bad, Bad)
    assert any(f.code == "hole-absent" and "hole [2, -2] of plate" in f.message and "tray.dxf has none there" in f.message
               for f in bad.findings)
    other = tray(missing=(10, 170))  # [4, 2], which nobody uses
    plate.write_bytes(other)
    assert isinstance(following.read(), Good)
    plate.write_bytes(tray())
    assert isinstance(following.read(), Good)


def test_compare_with_a_revision(cart: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The plate as it was committed against the plate as it is: a window more."""
    top = cart.parent
    shutil.copy(top / "drawings" / "tray.dxf", cart / "tray.dxf")
    text = (cart / "cart.yaml").read_text().replace("outline: {rectangle: [180, 120], corner: 8}", "outline: {file: tray.dxf}")
    (cart / "cart.yaml").write_text(text)

    def git(*arguments: str) -> None:
        subprocess.run(["git", "-c", "user.name=a", "-c", "user.email=a@example.org", "-c", "init.defaultBranch=main", *arguments],
                       cwd=top, check=True, capture_output=True)

    git("init")
    git("add", ".")
    git("commit", "-m", "first")

    def draw(space: object) -> None:
        box(space, 120, 180)
        circles(space, GRID)
        circles(space, [(30, 40)], 14)

    (cart / "tray.dxf").write_bytes(dxf(draw))
    monkeypatch.chdir(cart)
    assert main(["compare", "git:HEAD", "cart.yaml"]) == 0
    out = capsys.readouterr().out
    assert "plate" in out, out


def test_draws_sheets_and_holes(cart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The plan in characters shows the file's holes alone; the sheet is drawn."""
    (cart.parent / "drawings" / "tray.dxf").write_bytes(tray(missing=(10, 170)))  # [4, 2], front left
    layout = [str(cart / "cart.yaml"), "--with", str(cart / "drawn.yaml")]
    assert main(["holes", *layout]) == 0
    assert "53 holes" in capsys.readouterr().out
    assert main(["draw", *layout, "-o", str(cart / "sheet.svg")]) == 0
    assert (cart / "sheet.svg").stat().st_size > 10_000


def test_part_files_beside_a_plate_are_still_part_files(cart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The files of a layout end with its plates, which are no part files; two of these that define one part are told of."""
    for number in (1, 2):
        (cart / f"shelf_{number}.yaml").write_text("parts:\n  lump: {mass: 20, bodies: [{box: [20, 20, 20], at: [0, 0, 10]}]}\n")
    (cart / "shelves.yaml").write_text("catalogue: [shelf_1.yaml, shelf_2.yaml]\n"
                                       "placements: {lump: {part: lump, on: plate, at: [0, 0], fixing: adhesive}}\n")
    layout, overlays = cart / "cart.yaml", [cart / "drawn.yaml", cart / "shelves.yaml"]
    assert main(["parts", "lump", "--layout", str(layout), "--with", str(overlays[0]), "--with", str(overlays[1])]) == 0
    assert "lump" in capsys.readouterr().out
    assert "part-twice" in [f.code for f in cd.check(cd.assemble(cd.read(layout, overlays=overlays)))]
