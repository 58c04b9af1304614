"""``CMakeLists.txt`` of the description package: it installs exactly the folders that were written."""
from __future__ import annotations

from collections.abc import Iterable

from chassis_describe.artifact import Artifact

_TEXT = """\
cmake_minimum_required(VERSION 3.16)
project(@NAME@ NONE)

find_package(ament_cmake REQUIRED)

install(
  DIRECTORY @FOLDERS@
  DESTINATION share/${PROJECT_NAME}
  PATTERN "__pycache__" EXCLUDE)
install(
  FILES @FILES@
  DESTINATION share/${PROJECT_NAME})

ament_package()
"""
#: Read by the build, not by anyone afterwards (ament_package() installs package.xml itself).
_BUILD_ONLY = frozenset({"package.xml", "CMakeLists.txt"})


def cmake_lists(package: str, paths: Iterable[str]) -> Artifact:
    """The build file for a package with files at these paths (the record among them)."""
    listed = list(paths)
    folders = sorted({path.split("/", 1)[0] for path in listed if "/" in path})
    files = sorted(path for path in listed if "/" not in path and path not in _BUILD_ONLY)
    text = (_TEXT.replace("@NAME@", package).replace("@FOLDERS@", " ".join(folders))
            .replace("@FILES@", " ".join(files)))
    return Artifact(path="CMakeLists.txt", data=text.encode("ascii"))
