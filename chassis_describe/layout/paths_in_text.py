"""The values of a layout's text that name other files, changed or left out; every other byte stays."""
from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from chassis_describe.yaml_text.nodes import decoded
from chassis_describe.yaml_text.spans import Entries, Items, Span, Word, spans
from chassis_describe.yaml_text.spelling import text_like
from chassis_describe.yaml_text.splice import Splice, spliced

#: Without one of these words no value names a file.
_KEYS = re.compile(rb"catalogue|mesh|file|world")


def without_paths(data: bytes) -> bytes:
    """The text with nothing in place of every value that names a file: the same for a robot and for the copy of its layout in a
    package, where such names are others."""
    return _spliced(data, lambda key, word: '""') if _KEYS.search(data) else data


def with_paths(data: bytes, new_value: Callable[[str, str], str | None]) -> bytes:
    """The text with single values replaced in place; ``new_value(key, written)`` is None for what stays."""
    def new_text(key: str, word: Word) -> str | None:
        new = new_value(key, word.text)
        return None if new is None or new == word.text else text_like(word.quote, new)

    return _spliced(data, new_text)


def _spliced(data: bytes, new_text: Callable[[str, Word], str | None]) -> bytes:
    text = data.decode("utf-8")
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    text = text[len(mark):]
    cuts: dict[int, Splice] = {}
    for key, word in _paths_in(spans(decoded(text, "")[0])):
        new = new_text(key, word)
        if new is not None:
            cuts[word.start] = Splice(word.start, word.end, new)
    return (mark + spliced(text, list(cuts.values()))).encode("utf-8") if cuts else data


def _paths_in(root: Span | None) -> Iterator[tuple[str, Word]]:
    """Scalars that name a file: under ``catalogue`` at the top, every ``mesh``, ``world`` and description's ``file``."""
    listed = root.find("catalogue") if isinstance(root, Entries) else None
    if listed is not None and isinstance(listed[1], Items):
        yield from (("catalogue", item) for item in listed[1].items if isinstance(item, Word))
    waiting = [root] if root is not None else []
    while waiting:
        node = waiting.pop()
        if isinstance(node, Entries):
            for key, value in node.entries:
                if isinstance(key, Word) and key.text in ("mesh", "file", "world") and isinstance(value, Word):
                    yield key.text, value
                waiting.append(value)
        elif isinstance(node, Items):
            waiting += node.items
