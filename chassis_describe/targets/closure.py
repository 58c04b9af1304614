"""Closure: every frame, link, joint and topic that a file of the package names exists, and odometry has one publisher.

A navigation stack that is told of a frame which nobody publishes drops its data without a word; so the names are
checked before anything is written. Files are read back from their bytes, whoever made them; where names stand in them
and which names they bring is what their targets declare.
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.names import Use
from chassis_describe.targets.target import Written
from chassis_describe.words import near_names


def closure_faults(assembly: Assembly, package: Iterable[Written]) -> list[str]:
    """What doesn't resolve: file, key, value and the nearest name that exists. Empty when all is well."""
    written = list(package)
    known = known_names(assembly, written)
    faults = [_says(use, _plain(use, assembly), known[use.kind]) for one in written for file in one.files
              for use in one.target.names.uses(file, assembly.prefix) if _plain(use, assembly) not in known[use.kind]]
    for one in written:
        for file in one.files:
            faults.extend(one.target.names.faults(file))
    return [*faults, *_publishers(assembly, written)]


def known_names(assembly: Assembly, written: Sequence[Written]) -> Mapping[str, frozenset[str]]:
    """By kind, every name that something of this robot or its stack carries."""
    given = [one.target.gives(assembly) for one in written]
    return {"frame": frozenset(assembly.poses).union(*(g.frames for g in given)),
            "link": frozenset(link.name for link in assembly.links).union(*(g.links for g in given)),
            "joint": frozenset(joint.name for joint in assembly.joints).union(*(g.joints for g in given)),
            "topic": frozenset(topic.lstrip("/") for g in given for topic in g.topics)}


def _plain(use: Use, assembly: Assembly) -> str:
    """Topics without slash, those in the robot's own namespace as the relative ones that they are."""
    if use.kind != "topic":
        return use.name
    return use.name.removeprefix(f"/{assembly.layout.ros.namespace}/").lstrip("/")


def _says(use: Use, plain: str, known: frozenset[str]) -> str:
    near = near_names(plain, sorted(known), alike=0.0)
    hint = f" (nearest: {near[0]})" if near else ""
    return f"{use.path}: {use.key}: there is no {use.kind} {use.name!r}{hint}"


def _publishers(assembly: Assembly, written: Sequence[Written]) -> Iterator[str]:
    """More than one node that publishes the transform from the odometry frame to the root."""
    found = [node for one in written for file in one.files for node in one.target.names.publishers(file)]
    if len(found) > 1:
        yield f"odometry to {assembly.root} would be published by {len(found)} nodes: {' and '.join(found)}"
