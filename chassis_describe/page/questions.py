"""What a page may ask for, read strictly: known words, plain numbers, bounded sizes."""
from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, Literal, NamedTuple, get_args

Task = Literal["fits", "places", "preview", "write", "undo", "redo"]
#: No question is larger than this (bytes).
MOST_BYTES = 4096
#: The keys of each task, beside `do` and `revision`.
_KEYS: Mapping[str, frozenset[str]] = {
    "fits": frozenset({"of", "turn"}), "places": frozenset({"of", "turn"}), "preview": frozenset({"of", "to", "turn"}),
    "write": frozenset({"of", "to", "turn"}), "undo": frozenset(), "redo": frozenset()}
_NUMBER = re.compile(r"-?\d{1,6}(\.\d{1,9})?", re.ASCII)
_MOST_NAME = 200


class BadMessage(Exception):
    """A message that no page of ours sends; the text says why."""


class PageQuestion(NamedTuple):
    """``turn`` in degrees and ``to`` in holes, as they are to be written; ``revision``: of the layout that it was asked of."""

    task: Task
    revision: str
    of: str = ""
    to: tuple[Decimal, Decimal] | None = None
    turn: Decimal | None = None


def question(body: bytes) -> PageQuestion:
    """Read one. Raises BadMessage."""
    try:
        value = json.loads(body.decode("utf-8"), object_pairs_hook=_once)
    except (ValueError, RecursionError) as error:
        raise BadMessage("this is not JSON in UTF-8, each key once") from error
    if not isinstance(value, dict):
        raise BadMessage("a question is an object")
    task, revision = value.pop("do", None), value.pop("revision", None)
    if not isinstance(task, str) or task not in get_args(Task):
        raise BadMessage(f"`do` is one of {', '.join(get_args(Task))}")
    if not isinstance(revision, str) or len(revision) > _MOST_NAME:
        raise BadMessage("`revision` is a text")
    unknown = set(value) - _KEYS[task]
    missing = _KEYS[task] - {"turn"} - set(value)
    if unknown or missing:
        raise BadMessage(f"`{task}` takes {', '.join(sorted(_KEYS[task])) or 'nothing more'}")
    readers: dict[str, Callable[[Any], Any]] = {"of": _name, "to": _holes, "turn": _turn}
    return PageQuestion(task, revision, **{key: readers[key](v) for key, v in value.items()})  # type: ignore[arg-type]


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len({k for k, _ in pairs}) != len(pairs):
        raise ValueError("a key stands twice")
    return dict(pairs)


def _name(value: Any) -> str:
    if not isinstance(value, str) or not 0 < len(value) <= _MOST_NAME:
        raise BadMessage("`of` is the name of a placement")
    return value


def _number(value: Any) -> Decimal:
    if not isinstance(value, str) or not _NUMBER.fullmatch(value):
        raise BadMessage("numbers come as texts such as \"-0.5\"")
    return Decimal(value) + 0  # never -0


def _holes(value: Any) -> tuple[Decimal, Decimal]:
    if not isinstance(value, list) or len(value) != 2:
        raise BadMessage("`to` is a pair of holes")
    return _number(value[0]), _number(value[1])


def _turn(value: Any) -> Decimal | None:
    return None if value is None else _number(value)
