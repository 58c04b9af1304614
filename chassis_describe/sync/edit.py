"""Parameter files against what the geometry decides: what changes, what is left alone and why, and the files anew."""
from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple, Union

from chassis_describe.errors import UsageError
from chassis_describe.sync.frames import frame_of
from chassis_describe.sync.parameters import Parameter, parameters
from chassis_describe.sync.polygons import points_of, same_polygon, text_like
from chassis_describe.sync.sectors import sector_values
from chassis_describe.sync.wanted import OF_THE_DRIVE, OMNI_MARK, OMNI_RADIUS, Point, Wanted
from chassis_describe.targets.stack.outline import polygon_points
from chassis_describe.values import dataclass
from chassis_describe.yaml_text.spans import Items, Span, Word
from chassis_describe.yaml_text.values import Path, tree_of, value_at, with_values, words_of

#: What a parameter should hold: a number, a text, corners; or the reason (a `Leave`) why it stays.
Due = Union[float, str, tuple[Point, ...], "Leave"]
Shown = Union[float, str, tuple[float, ...], None]

#: Parameters that hold a polygon: collision monitor, laser_filters. Elsewhere as many numbers may mean something else.
_SHAPES = ("points", "polygon")
_KEEP = re.compile(r"#(?:.*[ \t])?chassis_describe:[ \t]*keep\b")
#: Numbers that are one: what is written has at most 12 digits.
_SAME = 1e-9
#: Where not all values of a file can be written at once, so many are tried one by one.
_MOST_ALONE = 300
#: Values of one file that the geometry may decide: the parameters of a large stack have some dozens.
_MOST_DUE = 1_000


class Leave(NamedTuple):
    """Stays as it is, because."""

    why: str


class Changed(NamedTuple):
    """A value that the geometry decides otherwise."""

    key: str
    line: int
    old: Shown
    new: Shown


class Left(NamedTuple):
    """A value that stays, and why."""

    key: str
    line: int
    why: str


@dataclass(frozen=True, kw_only=True)
class FileSync:
    """One file: as it was, as it should be, and what that is about."""

    file: str
    was: bytes
    data: bytes
    changed: tuple[Changed, ...]
    left: tuple[Left, ...]


def plan(files: Sequence[tuple[str, bytes]], want: Wanted, renamed: Mapping[str, str]) -> tuple[FileSync, ...]:
    """Every file as it should be. ``renamed``: frames that have another name since. Raises UsageError for a file that can't
    be read."""
    read = [(file, data, parameters(data, file)) for file, data in files]
    outlines = [points for _, _, found in read for p in found if p.leaf == "footprint" and _ours(p.node, want.namespace)
                and (points := points_of(p.value)) is not None]
    above = want.above | {p.value.text for _, _, found in read for p in found if isinstance(p.value, Word) and names_above(p.leaf)}
    told = want._replace(above=frozenset(above))
    return tuple(_planned(file, data, found, told, outlines, renamed) for file, data, found in read)


def names_above(leaf: str) -> bool:
    """Whether a parameter names a frame above the robot, which is the user's to name."""
    return leaf in ("odom_frame", "map_frame", "world_frame", "odom_frame_id", "global_frame", "global_frame_id", "fixed_frame",
                    "local_frame", "route_frame")


def _planned(file: str, data: bytes, found: Sequence[Parameter], want: Wanted, outlines: Sequence[tuple[Point, ...]],
             renamed: Mapping[str, str]) -> FileSync:
    text, root = tree_of(data, file)
    lines = text.split("\n")
    due = _all_due(found, want, outlines, renamed)
    number_due = sum(d is not None for d in due)
    if number_due > _MOST_DUE:
        raise UsageError(f"{file}: the geometry would decide {number_due} of its values, and at most {_MOST_DUE} are followed; "
                         "is it a parameter file?")
    left: dict[int, Left] = {}
    at_place: dict[Path, list[int]] = defaultdict(list)
    for number, parameter in enumerate(found):
        at_place[parameter.written].append(number)
    asked: dict[Path, list[int]] = {}  # those that say something else, by the place where it stands
    for place, numbers in at_place.items():
        real = [n for n in numbers if (d := due[n]) is not None and not isinstance(d, Leave) and not _says(found[n], d)]
        for n in numbers:
            if isinstance(d := due[n], Leave):
                left[n] = Left(words_of(found[n].path), found[n].line, d.why)
        if not real:
            continue
        why = _why_not(file, text, root, [found[n] for n in numbers], [due[n] for n in numbers], due[real[0]], lines)
        if why is None:
            asked[place] = real
        else:
            left.update((n, Left(words_of(found[n].path), found[n].line, why)) for n in real)
    values = {place: _written(found[real[0]], due[real[0]]) for place, real in asked.items()}  # type: ignore[arg-type]
    uses = {place: [found[n].path for n in at_place[place]] for place in asked}
    new, refused = _replaced(file, data, values, uses)
    left.update((n, Left(words_of(found[n].path), found[n].line, why)) for place, why in refused.items() for n in asked[place])
    changed = [Changed(words_of(found[n].path), found[n].line, _shown(found[n].value), values[place])
               for place, real in asked.items() if place not in refused for n in real]
    return FileSync(file=file, was=data, data=new, changed=tuple(sorted(changed, key=lambda c: c.line)),
                    left=tuple(sorted(left.values(), key=lambda item: item.line)))


def _replaced(file: str, data: bytes, values: Mapping[Path, float | str | tuple[float, ...]],
              uses: Mapping[Path, Sequence[tuple[str, ...]]]) -> tuple[bytes, dict[Path, str]]:
    """The file with these values, and why some of them can't be written in place. All at once where that can be; else one by
    one, each of which reads the file anew, so that the others are written."""
    try:
        return _written_all(file, data, values, uses), {}
    except UsageError as error:
        if len(values) > _MOST_ALONE:
            raise UsageError(f"{file}: {len(values)} values would change, and not all can be: "
                             f"{str(error).removeprefix(f'{file}: ')}") from None
    refused = {place: why for place, value in values.items() if (why := _refused(file, data, place, value, uses[place]))}
    return _written_all(file, data, {p: v for p, v in values.items() if p not in refused}, uses), refused


def _written_all(file: str, data: bytes, values: Mapping[Path, float | str | tuple[float, ...]],
                 uses: Mapping[Path, Sequence[tuple[str, ...]]]) -> bytes:
    return with_values(data, file, values, along=[path for place in values for path in uses[place]]) if values else data


def _refused(file: str, data: bytes, place: Path, value: float | str | tuple[float, ...],
             uses: Sequence[tuple[str, ...]]) -> str | None:
    try:
        with_values(data, file, {place: value}, along=uses)
    except UsageError as error:
        return str(error).removeprefix(f"{file}: ")
    return None


def _why_not(file: str, text: str, root: Span | None, uses: Sequence[Parameter], asked: Sequence[Due | None], value: Due | None,
             lines: Sequence[str]) -> str | None:
    """The reason why a value may not be written where it stands; None where it may. ``uses``: everything that takes it."""
    first = uses[0]
    if any(use.twice for use in uses):
        return "its key stands twice in one mapping; keep one of them"
    if any(_KEEP.search(lines[use.line - 1]) for use in uses):
        return "kept: the line says so" if len(uses) == 1 else "kept: a line that uses it says so"
    if any(d is None or isinstance(d, Leave) or d != value for d in asked):
        return "it is shared by an anchor with values that mean something else; write it out here"
    try:
        node = value_at(root, file, first.written)
    except UsageError as error:
        return str(error).removeprefix(f"{file}: ")
    if node is None:
        return "it is written in a way that can't be changed in place; write it out here"
    begin = text.rfind("\n", 0, node.start) + 1
    end = text.find("\n", node.end)
    return "kept: the line says so" if _KEEP.search(text[begin: end if end >= 0 else len(text)]) else None


# ------------------------------------------------------------------------------------------------------------ what is due
def _all_due(found: Sequence[Parameter], want: Wanted, outlines: Sequence[tuple[Point, ...]],
             renamed: Mapping[str, str]) -> list[Due | None]:
    """For each parameter what it should hold; None where the geometry has no say."""
    names: dict[str, set[str]] = defaultdict(set)
    for parameter in found:
        names[parameter.node].add(parameter.name)
    due: list[Due | None] = [_due(p, want, outlines, renamed, names[p.node]) for p in found]
    for number, value in sector_values(found, want).items():
        due[number] = value if not isinstance(value, str) else Leave(value)
    for number, parameter in enumerate(found):
        if due[number] is not None and not _ours(parameter.node, want.namespace):
            due[number] = Leave(f"the node {parameter.node} is not in the namespace /{want.namespace} of the layout")
    return due


def _due(parameter: Parameter, want: Wanted, outlines: Sequence[tuple[Point, ...]], renamed: Mapping[str, str],
         beside: set[str]) -> Due | None:
    rule = _RULES.get(parameter.leaf)
    omni = parameter.name == OMNI_RADIUS and OMNI_MARK in beside
    if parameter.name in OF_THE_DRIVE or omni:
        value = want.drive.get(parameter.name)
        return value if value is not None else Leave("the drive of the layout, or its lack of one, doesn't decide it")
    if rule is not None:
        return rule(parameter, want)
    points = points_of(parameter.value)
    if points is not None:
        return _outline(parameter, points, want, outlines)
    if isinstance(parameter.value, Word):
        name, why = frame_of(parameter.leaf, parameter.value.text, want, renamed)
        return Leave(why) if why is not None else name
    return None


def _footprint(parameter: Parameter, want: Wanted) -> Due | None:
    if isinstance(parameter.value, Items):
        return Leave("Nav2 takes a footprint as one string, and this is a list; write it in quotes")
    if parameter.value.text.strip() in ("", "[]"):
        return Leave("it is empty, so Nav2 goes by robot_radius")
    if points_of(parameter.value) is None:
        return Leave("this is no list of points, [[x, y], ...]")
    return want.footprint or Leave("the robot has no ground to stand on, so it has no footprint")


def _robot_radius(parameter: Parameter, want: Wanted) -> Due | None:
    return want.radius if want.radius is not None else Leave("the robot has no ground to stand on, so it has no radius")


_RULES: Mapping[str, Callable[[Parameter, Wanted], Due | None]] = {"footprint": _footprint, "robot_radius": _robot_radius}


def _outline(parameter: Parameter, points: tuple[Point, ...], want: Wanted, outlines: Sequence[tuple[Point, ...]]) -> Due | None:
    if want.footprint and any(same_polygon(points, outline) for outline in outlines):
        flat = polygon_points(want.footprint, "list")  # four points at least, as the collision monitor wants
        assert not isinstance(flat, str)
        return tuple(zip(flat[::2], flat[1::2]))
    if want.footprint and same_polygon(points, want.footprint):
        return None
    if parameter.leaf in _SHAPES:
        return Leave("a shape of its own: it equals no footprint in these files")
    return None


def _ours(node: str, namespace: str | None) -> bool:
    first = node.strip("/").split("/")
    return namespace is None or first[0] in ("*", "**") or first[: len(namespace.split("/"))] == namespace.split("/")


# ---------------------------------------------------------------------------------------------------------- how it stands
def _says(parameter: Parameter, due: Due) -> bool:
    """Whether the file says it already, however it is spelt."""
    if isinstance(due, tuple) and not isinstance(due, Leave):
        points = points_of(parameter.value)
        return points is not None and same_polygon(points, due)
    if not isinstance(parameter.value, Word):
        return False
    if isinstance(due, float):
        try:
            return abs(float(parameter.value.text) - due) <= _SAME
        except ValueError:
            return False
    return parameter.value.text == due


def _written(parameter: Parameter, due: float | str | tuple[Point, ...]) -> float | str | tuple[float, ...]:
    if not isinstance(due, tuple):
        return due
    if isinstance(parameter.value, Word):
        return text_like(parameter.value.text, due)
    return tuple(value for point in due for value in point)


def _shown(value: Word | Items) -> Shown:
    if isinstance(value, Items):
        return tuple(float(item.text) for item in value.items if isinstance(item, Word))
    try:
        return float(value.text) if not value.quote else value.text
    except ValueError:
        return value.text
