"""What two texts of a layout say differently, aliases and merges carried out: the proof that an edit did only its own."""
from __future__ import annotations

from collections.abc import Iterator

from chassis_describe.errors import LayoutError
from chassis_describe.yaml_text.compose import compose
from chassis_describe.yaml_text.nodes import Map, Node, Scalar, Seq, decoded

Path = tuple[str, ...]


def changed_paths(old: str, new: str, file: str) -> list[Path]:
    """The paths of names under which the two differ; spelling and order of keys don't count, the order of lists does."""
    return list(_between(_root(old, file), _root(new, file), (), set()))


def _root(text: str, file: str) -> Node | None:
    body, faults = decoded(text, file)
    root, more = compose(body, file)
    if faults or more:
        raise LayoutError((*faults, *more))
    return root


def _between(a: Node | None, b: Node | None, path: Path, same: set[tuple[int, int]]) -> Iterator[Path]:
    if (id(a), id(b)) in same:
        return
    found = False
    for change in _differences(a, b, path, same):
        found = True
        yield change
    if not found:
        same.add((id(a), id(b)))  # aliases lead here again and again


def _differences(a: Node | None, b: Node | None, path: Path, same: set[tuple[int, int]]) -> Iterator[Path]:
    if isinstance(a, Map) and isinstance(b, Map):
        for name in dict.fromkeys([*a.items, *b.items]):
            one, other = a.items.get(name), b.items.get(name)
            if one is None or other is None:
                yield (*path, name)
            else:
                yield from _between(one[1], other[1], (*path, name), same)
    elif isinstance(a, Seq) and isinstance(b, Seq) and len(a.items) == len(b.items):
        for number, (one_item, other_item) in enumerate(zip(a.items, b.items)):
            yield from _between(one_item, other_item, (*path, f"[{number}]"), same)
    elif isinstance(a, Scalar) and isinstance(b, Scalar):
        if (a.text, a.is_null) != (b.text, b.is_null):
            yield path
    elif a is not b:
        yield path
