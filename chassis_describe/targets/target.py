"""What a target is: one format of a description package, and everything that the rest of the program asks about it.

A target is one file that ends in ``TARGET = Target(...)``, and one line in ``TARGETS`` (``targets/__init__.py``). What it
writes, which names its files use and bring, what the package then depends on, and what ``docs/bringup.md`` says of it
are said here and nowhere else.
"""
from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from typing import TYPE_CHECKING

from chassis_describe.targets.names import Given, Names
from chassis_describe.values import dataclass, field

if TYPE_CHECKING:
    from chassis_describe.artifact import Artifact
    from chassis_describe.assembly.model import Assembly


def _gives_nothing(assembly: Assembly) -> Given:
    return Given()


def _needs_nothing(assembly: Assembly) -> Iterable[str]:
    return ()


def _warns_of_nothing(assembly: Assembly) -> Iterable[str]:
    return ()


def _says_nothing(assembly: Assembly, paths: Collection[str]) -> Iterable[str]:
    return ()


@dataclass(frozen=True, kw_only=True)
class Target:
    """One target.

    ``artifacts``: the files; none where the robot has nothing of what they are about.
    ``names``: which places of those files hold frames, links, joints and topics: closure reads the files back by it.
    ``gives``: frames above the robot's tree and topics that exist once what these files start is running.
    ``depends``: ROS packages that the files need (``exec_depend``); asked only where there are files.
    ``takers``: path → who takes the file, a row of the bring-up page; ``{robot}`` stands for the robot's name. Files of
    the package that have no row are for people, or taken by the build.
    ``warns``: what ``compile`` says when it has written the package, a sentence each.
    ``page``: paragraphs of the bring-up page (Markdown), in the order of TARGETS; gets the paths of the whole package, so
    that it speaks only of what is there. Asked always: a target without files may have something to say about that.
    """

    artifacts: Callable[[Assembly], Iterable[Artifact]]
    names: Names
    gives: Callable[[Assembly], Given] = _gives_nothing
    depends: Callable[[Assembly], Iterable[str]] = _needs_nothing
    takers: Mapping[str, str] = field(default_factory=dict)
    page: Callable[[Assembly, Collection[str]], Iterable[str]] = _says_nothing
    warns: Callable[[Assembly], Iterable[str]] = _warns_of_nothing


@dataclass(frozen=True, kw_only=True)
class Written:
    """A target with the files that it wrote for one robot."""

    target: Target
    files: tuple[Artifact, ...]


def nothing(assembly: Assembly) -> Iterable[Artifact]:
    """For a target that only has something to say."""
    return ()
