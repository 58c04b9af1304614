"""The package that ``compile`` writes builds and installs as a ROS 2 package; so does this one.

Judges: cmake with ament_cmake (its wheels), colcon, pip. Nothing is imported from the checkout in what is installed.
"""
from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

TOP = Path(__file__).resolve().parents[2]


def run(command: list[str], *, cwd: Path | None = None, env: dict[str, str] | None = None) -> str:
    clean = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "PYTHONDONTWRITEBYTECODE")}
    done = subprocess.run(command, cwd=cwd, env={**clean, **(env or {})}, capture_output=True, text=True, timeout=300)
    assert done.returncode in (0, 1 if "--despite-errors" in command else 0), done.stdout + done.stderr
    return done.stdout + done.stderr


@pytest.fixture(scope="module")
def ament(judge: Callable[[str], Any]) -> dict[str, str]:
    """Where cmake finds ament_cmake: the environment that its wheels were installed in."""
    judge("ament_package")
    prefix = Path(sys.prefix)
    if not (prefix / "share/ament_cmake/cmake").is_dir():
        judge("ros_ament_cmake (the wheel ros-ament-cmake)")
    return {"CMAKE_PREFIX_PATH": str(prefix), "AMENT_PREFIX_PATH": str(prefix),
            "PATH": f"{prefix / 'bin'}{os.pathsep}{os.environ['PATH']}"}


@pytest.mark.parametrize("demo", ["draught_scout", "games_waiter"])  # decks and bodies as meshes; an arm described elsewhere
def test_written_package_builds_and_installs(demo: str, tool: Callable[[str], list[str]], ament: dict[str, str], tmp_path: Path) -> None:
    import chassis_describe as cd

    name = f"{demo}_description"
    done = cd.compile(TOP / "config" / f"{demo}.yaml", tmp_path / name, despite_errors=True)
    assert done.written is not None
    tool("cmake")
    said = run(["cmake", "-S", str(tmp_path / name), "-B", str(tmp_path / "build"), "--no-warn-unused-cli",
                f"-DCMAKE_INSTALL_PREFIX={tmp_path / 'install'}", f"-DPython3_EXECUTABLE={sys.executable}"], env=ament)
    said += run(["cmake", "--build", str(tmp_path / "build"), "--target", "install"], env=ament)
    assert "Warning" not in said
    share = tmp_path / "install/share" / name
    for file in (tmp_path / name).rglob("*"):
        inside = file.relative_to(tmp_path / name)
        if file.is_file() and inside.name != "CMakeLists.txt":
            assert (share / inside).read_bytes() == file.read_bytes(), inside
    # How ROS finds a package: the marker in the ament index (repository ament/ament_cmake, resource index).
    assert (tmp_path / "install/share/ament_index/resource_index/packages" / name).is_file()
    address = f"package://{name}/"
    used = {part.split('"')[0] for part in (share / "urdf" / f"{demo}.urdf").read_text().split(address)[1:]}
    assert used
    for path in used:
        assert (share / path).stat().st_size > 84, "an STL with at least one triangle"


def test_same_bytes_from_any_place_locale_and_hash_seed(robot: Any, tmp_path: Path) -> None:
    import chassis_describe as cd

    here, elsewhere = tmp_path / "here", tmp_path / "some place"
    cd.compile(robot.layout, here, despite_errors=True)
    shutil.copytree(robot.layout.parent, elsewhere)
    run([sys.executable, "-m", "chassis_describe", "compile", robot.layout.name, "-o", "out", "--despite-errors"], cwd=elsewhere,
        env={"LC_ALL": "tr_TR.UTF-8", "PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo", "PYTHONPATH": str(TOP)})
    one, two = ({p.relative_to(out): p.read_bytes() for p in out.rglob("*") if p.is_file()} for out in (here, elsewhere / "out"))
    assert one == two
    assert not [path for path, data in one.items() if str(TOP).encode() in data or str(tmp_path).encode() in data]


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A clean copy of what is in version control, without anything that earlier builds left."""
    copy = tmp_path_factory.mktemp("source") / "chassis_describe"
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=TOP, capture_output=True, text=True)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    for name in filter(None, listed.stdout.split("\0")):
        if (TOP / name).is_file() and not name.startswith("tests/"):
            (copy / name).parent.mkdir(parents=True, exist_ok=True)
            (copy / name).write_bytes((TOP / name).read_bytes())
    return copy


SHARED = ["package.xml", "launch/layout.launch.py", "launch/live.launch.py", *(
    path.relative_to(TOP).as_posix() for path in sorted((TOP / "config").rglob("*")) if path.is_file())]


def test_builds_with_colcon(checkout: Path, tool: Callable[[str], list[str]], tmp_path: Path) -> None:
    colcon = tool("colcon")[0]
    run([colcon, "--log-base", str(tmp_path / "log"), "build", "--base-paths", str(checkout),
         "--build-base", str(tmp_path / "build"), "--install-base", str(tmp_path / "install")], cwd=tmp_path)
    prefix = tmp_path / "install/chassis_describe"
    assert (prefix / "share/ament_index/resource_index/packages/chassis_describe").is_file()
    for name in SHARED:
        assert (prefix / "share/chassis_describe" / name).is_file(), name
    program = prefix / "lib/chassis_describe/chassis_describe"  # where `ros2 run` looks
    for name in ("chassis_describe", "chassis_describe_live"):
        assert os.access(program.with_name(name), os.X_OK)
    assert not (prefix / "bin/chassis_describe").exists()
    site = next(prefix.glob("lib/python*/site-packages"))
    for name in ("draught_scout", "games_waiter"):  # the second from a part file and a description beside it
        out = run([str(program), "urdf", str(prefix / f"share/chassis_describe/config/{name}.yaml")],
                  cwd=tmp_path, env={"PYTHONPATH": str(site)})
        assert f'<robot name="{name}">' in out


def test_installs_with_pip(checkout: Path, tmp_path: Path) -> None:
    prefix = tmp_path / "prefix"
    run([sys.executable, "-m", "pip", "install", "-q", "--disable-pip-version-check", "--no-deps", "--prefix", str(prefix),
         str(checkout)], cwd=tmp_path)
    program = prefix / "bin/chassis_describe"
    assert os.access(program, os.X_OK)
    assert not (prefix / "lib/chassis_describe").exists()
    for name in SHARED:
        assert (prefix / "share/chassis_describe" / name).is_file(), name
    site = next(prefix.glob("lib/python*/site-packages"))
    assert list((site / "chassis_describe/catalogue").glob("*.yaml"))
    for name in ("draught_scout", "games_waiter"):  # the second from a part file and a description beside it
        out = run([str(program), "urdf", str(prefix / f"share/chassis_describe/config/{name}.yaml")],
                  cwd=tmp_path, env={"PYTHONPATH": str(site)})
        assert f'<robot name="{name}">' in out


def test_runs_from_a_checkout(checkout: Path) -> None:
    out = run([sys.executable, "-m", "chassis_describe", "urdf", "config/draught_scout.yaml"], cwd=checkout)
    assert '<robot name="draught_scout">' in out
