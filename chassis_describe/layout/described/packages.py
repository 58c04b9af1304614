"""Where ROS packages are on this machine: below AMENT_PREFIX_PATH, else where the layout says."""
from __future__ import annotations

import os
import posixpath
import re
from collections.abc import Mapping

_ADDRESS = re.compile(r"package://([^/]+)/(.+)")


class MissingPackage(Exception):
    """A package that is nowhere; the message names it and says where it was looked for."""


class Packages:
    """Shares of packages by name. ``given``: of the layout, name → folder."""

    def __init__(self, given: Mapping[str, str]) -> None:
        self.given = given
        self.found: dict[str, str] = {}

    def share(self, name: str) -> str:
        """The share folder of a package: its mark in the index of AMENT_PREFIX_PATH comes first (REP-122, ament index)."""
        if name not in self.found:
            self.found[name] = os.path.abspath(self._look(name))  # relative paths would count from the file that asks
        return self.found[name]

    def _look(self, name: str) -> str:
        for prefix in os.environ.get("AMENT_PREFIX_PATH", "").split(os.pathsep):
            share = posixpath.join(prefix, "share", name)
            if prefix and os.path.isfile(posixpath.join(prefix, "share", "ament_index", "resource_index", "packages", name)):
                return share
        if name in self.given:
            if os.path.isdir(self.given[name]):
                return self.given[name]
            raise MissingPackage(f"the package {name} is to be in {self.given[name]}, and there is no such folder")
        raise MissingPackage(f"the package {name} is neither below AMENT_PREFIX_PATH nor among the layout's `packages`")

    def path(self, address: str) -> str:
        """The path on disk of ``package://name/path``; any other address as it is."""
        match = _ADDRESS.fullmatch(address)
        return posixpath.join(self.share(match.group(1)), match.group(2)) if match else address

    def address(self, path: str) -> str | None:
        """The ``package://`` address of a path inside a package that was used; None outside all of them."""
        whole = os.path.abspath(path)
        for name, share in self.found.items():
            root = os.path.abspath(share)
            if whole.startswith(root + os.sep):
                return f"package://{name}/{os.path.relpath(whole, root).replace(os.sep, '/')}"
        return None


def package_of(address: str) -> str | None:
    """The package of a ``package://`` address."""
    match = _ADDRESS.fullmatch(address)
    return match.group(1) if match else None
