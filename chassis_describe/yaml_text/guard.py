"""What two YAML texts say differently, aliases and merges carried out: the proof that an edit did only its own.

Read by PyYAML's composer, not by the one that places the edit: two routes to one answer.
"""
from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from chassis_describe.errors import UsageError
from chassis_describe.yaml_text.nodes import decoded

KeyPath = tuple[str, ...]
_Known = dict[int, dict[str, Any]]
_MERGE = "tag:yaml.org,2002:merge"


def changed_paths(old: str, new: str, file: str) -> list[KeyPath]:
    """The paths of names under which the two differ; the order of keys doesn't count, that of lists does."""
    return list(dict.fromkeys(_between(_root(old, file), _root(new, file), (), set(), {})))


def _root(text: str, file: str) -> Any:
    import yaml

    body, faults = decoded(text, file)
    try:
        if faults:
            raise UsageError(f"{file}: {faults[0].message}")
        return yaml.compose(body, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    except (yaml.YAMLError, RecursionError) as error:
        raise UsageError(f"{file} would not read any more: {getattr(error, 'problem', None) or error}") from error


def _between(a: Any, b: Any, path: KeyPath, same: set[tuple[int, int]], known: _Known) -> Iterator[KeyPath]:
    if a is None or b is None:
        if a is not b:
            yield path
        return
    if (id(a), id(b)) in same:
        return
    same.add((id(a), id(b)))  # aliases lead here again and again, a loop of them even from inside
    found = False
    for change in _differences(a, b, path, same, known):
        found = True
        yield change
    if found:
        same.discard((id(a), id(b)))  # it is to be named wherever it stands


def _differences(a: Any, b: Any, path: KeyPath, same: set[tuple[int, int]], known: _Known) -> Iterator[KeyPath]:
    if a.id != b.id:
        yield path
    elif a.id == "mapping":
        ours, theirs = _entries(a, (), known), _entries(b, (), known)
        for name in dict.fromkeys([*ours, *theirs]):
            yield from _between(ours.get(name), theirs.get(name), (*path, name), same, known)
    elif a.id == "sequence":
        if len(a.value) != len(b.value):
            yield path
            return
        for number, (one, other) in enumerate(zip(a.value, b.value)):
            yield from _between(one, other, (*path, f"[{number}]"), same, known)
    elif (a.tag, a.value) != (b.tag, b.value):
        yield path


def _entries(node: Any, inside: tuple[int, ...], known: _Known) -> dict[str, Any]:
    """Values by the names of their keys, with those that `<<` takes over (YAML's merge key type, 2005). ``known``: what was
    read before, since merges of merges lead to one mapping again and again."""
    if id(node) in known:
        return known[id(node)]
    own: dict[str, Any] = {}
    merged: dict[str, Any] = {}
    for key, value in node.value:
        if key.tag == _MERGE:
            for source in value.value if value.id == "sequence" else [value]:
                if source.id == "mapping" and id(source) not in inside:
                    for name, taken in _entries(source, (*inside, id(node)), known).items():
                        merged.setdefault(name, taken)
        else:
            own[str(key.value)] = value
    known[id(node)] = {**merged, **own}
    return known[id(node)]
