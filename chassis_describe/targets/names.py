"""Which places of a file hold names of frames, links, joints and topics: said by each target, read back from the bytes.

A target states one of these values; closure asks it about every file that the target wrote.
"""
from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, Literal, NamedTuple

from chassis_describe.artifact import Artifact
from chassis_describe.values import dataclass

NameKind = Literal["frame", "link", "joint", "topic"]
Tree = Any  # what YAML holds: mappings, lists, scalars


class Use(NamedTuple):
    """One name in one file: where it stands, what it should be, and the name."""

    path: str
    key: str
    kind: NameKind
    name: str


class Given(NamedTuple):
    """Names that a target brings: frames above the robot's own tree, topics (relative ones without a slash), and links and joints
    that only a simulated robot has."""

    frames: frozenset[str] = frozenset()
    topics: frozenset[str] = frozenset()
    links: frozenset[str] = frozenset()
    joints: frozenset[str] = frozenset()


class Names:
    """How to find the names in a file. This one finds none: for files that hold none, or that are the user's own."""

    def uses(self, file: Artifact, prefix: str) -> Iterator[Use]:
        """Every name that the file uses. ``prefix``: the robot's, which templates leave open."""
        yield from ()

    def faults(self, file: Artifact) -> Iterator[str]:
        """What in the file doesn't hold together by itself, in words."""
        yield from ()

    def publishers(self, file: Artifact) -> Iterator[str]:
        """Nodes that the file makes publish the transform from the odometry frame to the root."""
        yield from ()


@dataclass(frozen=True, kw_only=True)
class Parameters(Names):
    """A ROS parameter file.

    ``frames``, ``joints``, ``topics``: keys whose text (or list of texts) is one; a key that begins with ``*`` stands for
    an ending. ``lists``: keys that list names whose blocks stand beside them (plugins, sources); ``lists_above``: whose
    blocks are beside the block that lists them (zones of a source). ``odometry``: keys that, when true, make their node
    publish the transform from the odometry frame to the root.
    """

    frames: tuple[str, ...] = ()
    joints: tuple[str, ...] = ()
    topics: tuple[str, ...] = ()
    lists: tuple[str, ...] = ()
    lists_above: tuple[str, ...] = ()
    odometry: tuple[str, ...] = ()

    def uses(self, file: Artifact, prefix: str) -> Iterator[Use]:
        for where, key, value in _scalars("", "", _yaml(file)):
            for kind, keys in (("frame", self.frames), ("joint", self.joints), ("topic", self.topics)):
                if value and any(key.endswith(k[1:]) if k[0] == "*" else key == k for k in keys):
                    yield Use(file.path, where, kind, value)  # type: ignore[arg-type]

    def faults(self, file: Artifact) -> Iterator[str]:
        stack: list[tuple[str, Tree, Tree]] = [("", _yaml(file), {})] if self.lists or self.lists_above else []
        while stack:
            where, value, above = stack.pop()
            if not isinstance(value, Mapping):
                continue
            for key, blocks in [*((key, value) for key in self.lists), *((key, above) for key in self.lists_above)]:
                listed = value.get(key)
                names = listed.split() if isinstance(listed, str) else listed if isinstance(listed, list) else []
                for name in names:
                    if not isinstance(blocks.get(str(name)), Mapping):
                        yield f"{file.path}: {where} > {key}: {name!r} has no block of its own"
            stack.extend((f"{where} > {k}" if where else str(k), inner, value) for k, inner in value.items())

    def publishers(self, file: Artifact) -> Iterator[str]:
        for name, parameters in nodes(_yaml(file)) if self.odometry else ():
            if any(parameters.get(key) is True for key in self.odometry):
                yield f"{name} ({file.path})"


@dataclass(frozen=True, kw_only=True)
class RvizNames(Names):
    """An RViz file: keys whose text is a frame, and topics as RViz writes them, ``... Topic: {Value: name}``."""

    frames: tuple[str, ...]
    #: RViz's own word in place of a frame.
    fixed: str = "<Fixed Frame>"

    def uses(self, file: Artifact, prefix: str) -> Iterator[Use]:
        for where, key, value in _scalars("", "", _yaml(file)):
            if key in self.frames and value not in (self.fixed, ""):
                yield Use(file.path, where, "frame", value)
            elif key == "Value" and where.split(" > ")[-2:-1] and where.split(" > ")[-2].endswith("Topic") and value:
                yield Use(file.path, where, "topic", value)


def _local(node: Any) -> str:
    """An element's tag without its namespace."""
    return str(node.tag).rpartition("}")[2]


@dataclass(frozen=True, kw_only=True)
class XmlNames(Names):
    """A URDF or xacro. ``uses_of``: element as ``parent>tag`` (or ``tag``) → attribute that holds a name ("" for its
    text) and kind. ``parameters``: names that a macro leaves open, not looked at; ``${prefix}`` is the robot's own."""

    uses_of: Mapping[str, tuple[str, NameKind]]
    parameters: tuple[str, ...] = ()

    def uses(self, file: Artifact, prefix: str) -> Iterator[Use]:
        from lxml import etree

        for node in etree.fromstring(file.data).iter(etree.Element):
            tag = _local(node)
            above = node.getparent()
            inside = _local(above) if above is not None else ""
            attribute, kind = self.uses_of.get(f"{inside}>{tag}") or self.uses_of.get(tag) or (None, "link")
            if attribute is None:
                continue
            name = node.get(attribute) if attribute else (node.text or "").strip()
            if name and tag == "gazebo" and name.endswith("_joint"):
                kind = "joint"  # an extension may refer to either
            if name and name not in self.parameters:
                yield Use(file.path, f"{inside} > {tag}" if inside else tag, kind, name.replace("${prefix}", prefix))


@dataclass(frozen=True, kw_only=True)
class PythonNames(Names):
    """A launch file. ``frames``, ``topics``: module-level lists; of each row the named columns are read, as far
    as it has them."""

    frames: Mapping[str, tuple[int, ...]] | None = None
    topics: Mapping[str, tuple[int, ...]] | None = None

    def uses(self, file: Artifact, prefix: str) -> Iterator[Use]:
        import ast

        kinds: tuple[tuple[NameKind, Mapping[str, tuple[int, ...]]], ...] = (
            ("frame", self.frames or {}), ("topic", self.topics or {}))
        for node in ast.parse(file.data).body:
            if not isinstance(node, ast.Assign) or not isinstance(node.targets[0], ast.Name):
                continue
            for kind, lists in kinds:
                for row in ast.literal_eval(node.value) if node.targets[0].id in lists else ():
                    for column in lists[node.targets[0].id]:
                        if column < len(row):
                            yield Use(file.path, node.targets[0].id, kind, row[column])


_CODE = re.compile(r"`([^`]+)`")


@dataclass(frozen=True, kw_only=True)
class PageNames(Names):
    """A Markdown page: columns of its tables whose words in code type are names. Prose is not read."""

    frames: tuple[str, ...] = ()
    topics: tuple[str, ...] = ()

    def uses(self, file: Artifact, prefix: str) -> Iterator[Use]:
        head: list[str] = []
        for number, line in enumerate(file.data.decode("utf-8", "replace").splitlines(), start=1):
            if not line.startswith("|"):
                head = []
                continue
            cells = [cell.strip() for cell in line.strip("|").split("|")]
            if not head:
                head = cells
                continue
            for column, cell in zip(head, cells):
                for kind, columns in (("frame", self.frames), ("topic", self.topics)):
                    for name in _CODE.findall(cell) if column.strip("`") in columns else ():
                        yield Use(file.path, f"line {number}", kind, name)  # type: ignore[arg-type]


def nodes(tree: Tree, above: tuple[str, ...] = ()) -> Iterator[tuple[str, Mapping[str, Tree]]]:
    """Every node of a parameter file with its parameters; namespaces before its name, ``ns/name``."""
    for key, inner in (tree.items() if isinstance(tree, Mapping) else ()):
        if key == "ros__parameters" and isinstance(inner, Mapping):
            yield "/".join(above), inner
        else:
            yield from nodes(inner, (*above, str(key)))


def _yaml(file: Artifact) -> Tree:
    import yaml

    loaded: Tree = yaml.load(file.data, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    return loaded


def _scalars(where: str, key: str, value: Tree) -> Iterator[tuple[str, str, str]]:
    """Every text of a tree: the path of its keys, its own key, and the text."""
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _scalars(f"{where} > {name}" if where else str(name), str(name), inner)
    elif isinstance(value, list):
        for item in value:
            yield from _scalars(where, key, item)
    elif isinstance(value, str):
        yield where, key, value
