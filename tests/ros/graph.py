"""A ROS graph for tests: the transform message built once, an environment that keeps DDS on this machine."""
from __future__ import annotations

import ctypes
import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

SOURCES = Path(__file__).resolve().parent / "tf2_msgs"
TOP = Path(__file__).resolve().parents[2]


def transform_messages() -> Path:
    """The folder that ``tf2_msgs`` is installed in, built on first use (about 20 s) and kept in the environment.

    No package registry carries tf2_msgs; users have it from their ROS. Raises RuntimeError with the end of the build's
    output where it does not build.
    """
    text = b"".join(p.read_bytes() for p in sorted(SOURCES.rglob("*")) if p.is_file()) + sys.version.encode()
    there = Path(sys.prefix) / "test_messages" / hashlib.sha256(text).hexdigest()[:12]
    if there.is_dir():
        return there
    there.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=there.parent) as scratch:
        build = Path(scratch) / "build"
        environment = {**os.environ, "CMAKE_PREFIX_PATH": sys.prefix, "AMENT_PREFIX_PATH": sys.prefix,
                       "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"}
        for command in (["cmake", "-S", str(SOURCES), "-B", str(build), "-Wno-dev", f"-DPython3_EXECUTABLE={sys.executable}",
                         f"-DCMAKE_INSTALL_PREFIX={there}", f"-DCMAKE_INSTALL_RPATH={there}/lib",
                         "-DCMAKE_INSTALL_RPATH_USE_LINK_PATH=ON", "-DBUILD_TESTING=OFF"],
                        ["cmake", "--build", str(build), "-j2"]):
            _run(command, environment)
        # Two workers may build at the same time: the first whole folder wins.
        staged = Path(scratch) / "staged"
        _run(["cmake", "--install", str(build)], {**environment, "DESTDIR": str(staged)})
        try:
            (staged / there.relative_to("/")).rename(there)
        except OSError:
            if not there.is_dir():
                raise
    return there


def _run(command: list[str], environment: dict[str, str]) -> None:
    done = subprocess.run(command, env=environment, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"{' '.join(command[:3])} failed:\n{done.stdout[-3000:]}{done.stderr[-3000:]}")


def packages(there: Path) -> Path:
    """The folder of Python packages in an installed prefix."""
    return there / "lib" / f"python{sys.version_info.major}.{sys.version_info.minor}" / "site-packages"


def environment(domain: int) -> dict[str, str]:
    """Of a process that runs a node of ours: this checkout, the messages, DDS on this machine alone, a domain of its own."""
    there = transform_messages()

    def before(name: str, *paths: object) -> str:
        return os.pathsep.join([*map(str, paths), *filter(None, [os.environ.get(name)])])

    # The wheels of ROS put their own folders into LD_LIBRARY_PATH at the first start of Python, and only then.
    return {**os.environ, "PYTHONPATH": before("PYTHONPATH", TOP, packages(there)),
            "LD_LIBRARY_PATH": before("LD_LIBRARY_PATH", there / "lib"),
            "AMENT_PREFIX_PATH": f"{there}{os.pathsep}{sys.prefix}", "ROS_DOMAIN_ID": str(domain),
            "ROS_AUTOMATIC_DISCOVERY_RANGE": "LOCALHOST", "ROS_LOCALHOST_ONLY": "1"}


def load_here() -> None:
    """Make ``tf2_msgs`` importable in this process: type supports are found by name among the libraries loaded."""
    there = transform_messages()
    if str(packages(there)) not in sys.path:
        import geometry_msgs.msg  # noqa: F401  (its libraries first: ours need them)

        for library in sorted((there / "lib").glob("*.so")):
            ctypes.CDLL(str(library))
        sys.path.insert(0, str(packages(there)))


def free_domain(worker: str) -> int:
    """A DDS domain for a worker of this run (``gw0`` or ``master``), apart from those of other runs as far as that goes: ROS counts
    its domains to 101."""
    digits = "".join(c for c in worker if c.isdigit())
    return 20 + (os.getppid() * 8 + (int(digits) if digits else 7)) % 80

