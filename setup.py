"""One package, three ways to install it: ``pip install .``, ``colcon build`` (ament_python), or run from a checkout.

There is no ``pyproject.toml`` on purpose: colcon decides by setup.py and package.xml, and the options below send the
executable to ``lib/chassis_describe`` for colcon (which reads them) and leave it under ``bin`` for pip (which builds a
wheel and does not, or where it runs this file itself is told apart by an option that it alone gives).
"""
from __future__ import annotations

import sys
from glob import glob
from pathlib import Path

from setuptools import find_packages, setup

NAME = "chassis_describe"
HERE = Path(__file__).resolve().parent


def listed(pattern: str) -> list[str]:
    """Files of this folder that match, sorted, so that two builds list them alike."""
    return sorted(glob(pattern, recursive=True))


def below(folder: str) -> list[tuple[str, list[str]]]:
    """Every file below a folder, at the same place below the share."""
    found: dict[str, list[str]] = {}
    for path in listed(f"{folder}/**"):
        if Path(path).is_file():
            found.setdefault(f"share/{NAME}/{Path(path).parent.as_posix()}", []).append(path)
    return list(found.items())


VERSION = dict(line.split(" = ") for line in (HERE / NAME / "version.py").read_text(encoding="utf-8").splitlines()
               if " = " in line)["VERSION"].strip('"')

BY_PIP = "--install-headers" in sys.argv  # pip up to 23.0 without `wheel` runs this file itself, as Debian 12's does

setup(
    name=NAME,
    version=VERSION,
    description="Writes all that ROS 2 needs to know of the body of a robot built from drilled plates",
    long_description=(HERE / "README.md").read_text(encoding="utf-8") if (HERE / "README.md").exists() else "",
    long_description_content_type="text/markdown",
    author="chassis_describe maintainers",
    author_email="maintainers@example.com",
    license="Apache-2.0",
    python_requires=">=3.10",
    packages=find_packages(include=[NAME, f"{NAME}.*"]),
    package_data={NAME: ["catalogue/*.yaml", "manual/*.md", "page/assets/*", "py.typed"]},
    data_files=[
        ("share/ament_index/resource_index/packages", [f"resource/{NAME}"]),
        (f"share/{NAME}", ["package.xml"]),
        (f"share/{NAME}/launch", listed("launch/*.launch.py")),
        *below("config"),
    ],
    zip_safe=False,
    # The floor is what Ubuntu 22.04 packages: numpy 1.21, lxml 4.8, PyYAML 5.4, shapely 1.8.
    install_requires=["numpy>=1.21", "lxml>=4.8", "PyYAML>=5.4", "shapely>=1.8", "xacro>=2.0"],
    extras_require={
        # Independent references and test tools; exact versions that are known to work stand in .ci/requirements.txt.
        "test": ["pytest>=7", "pytest-xdist", "hypothesis", "jsonschema", "pin", "mujoco", "pybullet", "yourdfpy",
                 "trimesh", "coal", "colcon-common-extensions", "cmake"],
        # Drawings as pdf, png and dxf; svg and stl need nothing more.
        "pictures": ["reportlab>=4.0", "pypdfium2>=4.20", "ezdxf>=1.1"],
        # Decks that are drawn in DXF files.
        "dxf": ["ezdxf>=1.1"],
        # The page needs no library; with it come the drawings that its user will want next.
        "view": ["reportlab>=4.0", "pypdfium2>=4.20", "ezdxf>=1.1"],
        # The trial course and the simulator; maps are images.
        "sim": ["mujoco>=3.2", "pillow>=9.0"],
        # The nodes, where ROS 2 does not come from the system (Linux x86-64, CPython 3.10 to 3.13).
        "ros": ["ros-rclpy[fastrtps]", "ros-std-msgs", "ros-geometry-msgs", "ros-std-srvs", "ros-diagnostic-msgs",
                "ros-visualization-msgs", "ros-sensor-msgs", "ros-nav-msgs", "ros-trajectory-msgs", "ros-rosgraph-msgs"],
    },
    entry_points={"console_scripts": [f"{NAME} = {NAME}.cli.main:main", f"{NAME}_live = {NAME}.cli.run:live_node",
                                      f"{NAME}_simulator = {NAME}.cli.run:simulator_node"]},
    options={
        "install": {"install_scripts": f"$base/lib/{NAME}"},
        "develop": {"script_dir": f"$base/lib/{NAME}"},
    } if not BY_PIP else {},
)
