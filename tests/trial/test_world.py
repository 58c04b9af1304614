"""Maps as Nav2's map server reads them (navigation2 main:nav2_map_server/src/map_io.cpp), and what is no map."""
from __future__ import annotations

from pathlib import Path

import pytest

from chassis_describe.cli.main import main
from chassis_describe.errors import ChassisError, LayoutError, UsageError

np = pytest.importorskip("numpy")
Image = pytest.importorskip("PIL.Image", reason="pillow, of the extra `sim`, is not installed")
from chassis_describe.trial.world import few_walls, read_world  # noqa: E402

TOP = Path(__file__).resolve().parents[2]
#: Image, grid and metadata that navigation2 tests its own reader with: nav2_map_server/test/testmap.pgm and
#: test_constants.cpp (g_valid_image_content, lower left first).
PUBLISHED_ROWS = ["0fffffffff", "0fffff00ff", "0fffff00ff", "0fffff00ff", "0fffff00ff", "0fffffffff", "0fffffffff",
                  "0000ff000f", "0000ff000f", "ffffffffff"]
PUBLISHED_GRID = [[0] * 10, [100, 100, 100, 100, 0, 0, 100, 100, 100, 0], [100, 100, 100, 100, 0, 0, 100, 100, 100, 0],
                  [100] + [0] * 9, [100] + [0] * 9, *[[100, 0, 0, 0, 0, 0, 100, 100, 0, 0]] * 4, [100] + [0] * 9]
ABOUT = "image: {image}\nresolution: 0.1\norigin: [2.0, 3.0, 1.0]\noccupied_thresh: 0.65\nfree_thresh: 0.196\nnegate: {negate}\n"


def written(folder: Path, pixels: object, name: str = "map.png", mode: str = "", negate: object = 0) -> str:
    image = np.array(pixels)
    Image.fromarray(image if image.dtype == np.uint16 else image.astype(np.uint8)).save(folder / name)
    (folder / "map.yaml").write_text(ABOUT.format(image=name, negate=negate) + (f"mode: {mode}\n" if mode else ""))
    return str(folder / "map.yaml")


@pytest.mark.parametrize("name", ["map.pgm", "map.png", "map.bmp"])
def test_the_map_that_nav2_publishes_is_read_as_nav2_reads_it(tmp_path: Path, name: str) -> None:
    pixels = [[0xfe if c == "f" else 0 for c in row] for row in PUBLISHED_ROWS]
    world = read_world(written(tmp_path, pixels, name, "trinary"))
    assert world.cells.tolist() == PUBLISHED_GRID
    assert (world.resolution, world.origin) == (0.1, (2.0, 3.0, 1.0))


def test_modes_and_thresholds(tmp_path: Path) -> None:
    """By hand from map_io.cpp: p = (255 - v) / 255; 100 from 0.65 on, 0 up to 0.196, between: unknown, or scaled."""
    pixels = [[255, 206, 205, 150, 90, 89, 0]]  # p: 0, .192, .196 (over .196 by 8e-5), .412, .647, .651, 1
    assert read_world(written(tmp_path, pixels)).cells.tolist() == [[0, 0, -1, -1, -1, 100, 100]]
    scaled = [0, 0, 0, round((105 / 255 - 0.196) / 0.454 * 100), 99, 100, 100]
    assert read_world(written(tmp_path, pixels, mode="Scale")).cells.tolist() == [scaled]
    assert read_world(written(tmp_path, [[0, 50, 100, 101, 128, 255]], mode="raw")).cells.tolist() == [[0, 50, 100, -1, -1, -1]]


def test_negate_turns_light_into_walls(tmp_path: Path) -> None:
    for negate in (1, "true"):
        assert read_world(written(tmp_path, [[255, 0, 128]], negate=negate)).cells.tolist() == [[100, 0, -1]]


def test_transparent_pixels_are_unknown_colours_are_grey_and_16_bits_are_taken(tmp_path: Path) -> None:
    """Grey of a colour as ITU-R BT.601 weighs it: pure green is 150, pure red 76 (p = .70: a wall)."""
    clear = [[[0, 0, 0, 0], [0, 0, 0, 255], [255, 255, 255, 255]]]
    assert read_world(written(tmp_path, clear)).cells.tolist() == [[-1, 100, 0]]
    assert read_world(written(tmp_path, [[[0, 255, 0], [255, 0, 0]]])).cells.tolist() == [[-1, 100]]
    assert read_world(written(tmp_path, np.array([[0, 65535, 30000]], dtype=np.uint16))).cells.tolist() == [[100, 0, -1]]


def test_walls_become_boxes_that_cover_the_same_cells(tmp_path: Path) -> None:
    """Each cell's middle is in exactly one box where a wall stands, in none elsewhere; turned about the map's origin by its yaw
    (nav_msgs/MapMetaData)."""
    random = np.random.default_rng(3)
    world = read_world(written(tmp_path, np.where(random.random((12, 9)) < 0.4, 0, 254)))
    c, s = np.cos(1.0), np.sin(1.0)
    blocks = world.blocks()
    for (row, column), wall in np.ndenumerate(world.walls):
        x, y = (column + 0.5) * 0.1, (row + 0.5) * 0.1
        there = np.array([2.0 + c * x - s * y, 3.0 + s * x + c * y])
        inside = 0
        for block in blocks:
            off = there - block.centre[:2]
            own = abs(c * off[0] + s * off[1]), abs(c * off[1] - s * off[0])
            inside += own[0] < block.size[0] / 2 and own[1] < block.size[1] / 2
            assert (block.turn, block.size[2], block.centre[2]) == (1.0, 1.0, 0.5)
        assert inside == wall
    assert len(blocks) < world.walls.sum()


def test_ours_is_a_corridor_with_room_to_start() -> None:
    world = read_world(str(TOP / "config/worlds/corridor.yaml"))
    free = world.cells == 0
    assert free[20:40, 30:200].mean() > 0.95  # ahead of the start: two metres wide, less a cupboard
    assert world.walls.any()
    assert (world.cells == -1).any()
    assert not few_walls().walls[30:50, 30:50].any()


@pytest.mark.parametrize(("change", "said"), [
    (("resolution: 0.1\n", ""), "`resolution` is missing"),
    (("resolution: 0.1", "resolution: fine"), "map.yaml:2:13: error: resolution: fine is no number"),
    (("resolution: 0.1", "resolution: 0"), "a pixel is between a millimetre and 10 m"),
    (("resolution: 0.1", "resolution: 1e-300"), "a pixel is between a millimetre and 10 m"),
    (("[2.0, 3.0, 1.0]", "[1e308, 3.0, 1.0]"), "the origin lies further than 1000 km away"),
    (("[2.0, 3.0, 1.0]", "[2.0, 3.0]"), "`origin` has three numbers"),
    (("[2.0, 3.0, 1.0]", "[2.0, north, 1.0]"), "north is no number"),
    (("negate: 0", "negate: 2"), "`negate` is 0 or 1"),
    (("negate: 0", "negate: 0\nmode: ternary"), "there is no mode ternary (one of trinary, scale, raw)"),
    (("image: map.png", "image: [1]"), "`image` is no name"),
    (("image: map.png", "image: other.png"), "other.png is not there"),
    (("image: map.png", "image: map.yaml"), "is none that can be read"),
    (("resolution: 0.1", "resolution: [0.1"), "yaml-syntax"),
])
def test_what_is_wrong_with_a_map_is_said_with_its_place(tmp_path: Path, change: tuple[str, str], said: str) -> None:
    path = Path(written(tmp_path, [[0]]))
    path.write_text(path.read_text().replace(*change))
    with pytest.raises(ChassisError, match=r"map\.yaml:\d+:\d+|no map file") as caught:
        read_world(str(path))
    assert said in str(caught.value)


def test_all_faults_of_a_map_are_said_at_once(tmp_path: Path) -> None:
    path = tmp_path / "map.yaml"
    path.write_text("image: map.png\norigin: 3\nnegate: x\n")
    with pytest.raises(LayoutError) as caught:
        read_world(str(path))
    assert {f.message for f in caught.value.findings} == {
        "`resolution` is missing", "`origin` has three numbers", "`free_thresh` is missing", "`occupied_thresh` is missing",
        "`negate` is 0 or 1"}


def test_what_is_no_map_at_all(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="is not there"):
        read_world(str(tmp_path / "none.yaml"))
    (tmp_path / "list.yaml").write_text("- 1\n")
    with pytest.raises(UsageError, match="is no map file"):
        read_world(str(tmp_path / "list.yaml"))


def test_the_command_ends_on_a_bad_world(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("mujoco")
    robot = str(TOP / "config/seedling_cart.yaml")
    assert main(["simulate", robot, "--ros", "--world", str(tmp_path / "none.yaml")]) == 2
    assert "none.yaml is not there" in capsys.readouterr().err
    assert main(["simulate", robot, "--world", "x.yaml"]) == 2
    assert "--world belongs to --ros" in capsys.readouterr().err
    for words in (["--start", "1,2"], ["--start", "here"], ["--speed", "0"], ["--seed", "x"]):
        assert main(["simulate", robot, "--ros", *words]) == 2


def test_maps_that_no_robot_drives_in_are_refused(tmp_path: Path) -> None:
    """36 million cells, though the file has a few kilobytes; and 80 000 single cells, each a box of its own for the engine."""
    with pytest.raises(UsageError, match="6000 x 6000 pixels"):
        read_world(written(tmp_path, np.full((6000, 6000), 254)))
    checks = np.where(np.indices((400, 400)).sum(axis=0) % 2, 0, 254)
    with pytest.raises(UsageError, match="more than 20000 boxes"):
        read_world(written(tmp_path, checks)).blocks()
