"""Changing one placement in the text of a layout, every other byte left as it is.

Values are replaced where they stand, number by number; keys that are not there are put in after the key that they
belong behind, in the style of the mapping. What would also change something else (a value behind an anchor that others
share) is refused with their names.
"""
from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from chassis_describe.errors import UsageError
from chassis_describe.values import dataclass
from chassis_describe.yaml_text.guard import changed_paths
from chassis_describe.yaml_text.nodes import decoded
from chassis_describe.yaml_text.spans import Alias, Entries, Span, Word, spans
from chassis_describe.yaml_text.spelling import unit_like
from chassis_describe.yaml_text.splice import (
    Splice,
    fresh,
    insertion,
    open_ended,
    spliced,
    value_splices,
    whole_splice,
    word_splice,
)

#: A new key comes after the last of these that stands already.
_ORDER = ("<<", "mirror_of", "part", "on", "face", "at", "screws", "turn", "points", "lift", "offset", "set", "frame", "calibrated")


@dataclass(frozen=True, kw_only=True)
class Wants:
    """What a placement is to say: only what is not None is written.

    ``at`` in holes, ``screws`` in the order in which they stand, ``turn`` in degrees, ``set`` adjustments in degrees, of slides
    in mm, ``calibrated`` a whole value in flow style, of ``sensor`` where the part has several; the others words.
    """

    at: tuple[Decimal, Decimal] | None = None
    screws: tuple[tuple[int, int], ...] | None = None
    turn: Decimal | None = None
    points: str | None = None
    on: str | None = None
    face: str | None = None
    set: Mapping[str, Decimal] | None = None
    calibrated: str | None = None
    sensor: str | None = None

    def names(self) -> tuple[str, ...]:
        """The keys that are to be written, in the order of a placement."""
        return tuple(k for k in ("on", "face", "at", "screws", "turn", "points", "set", "calibrated")
                     if getattr(self, k) is not None)


def edited(data: bytes, file: str, name: str, wants: Wants) -> bytes:
    """The file with the placement ``name`` changed. Raises UsageError with the reason where that can't be done."""
    text, bom = _body(data, file)
    placement = own_placement(text, file, name)
    splices = _splices(text, placement, name, wants)
    new = spliced(text, splices)
    _only_intended(text, new, file, name, wants)
    return (bom + new).encode("utf-8")


def written_keys(data: bytes, file: str, name: str) -> tuple[str, ...] | None:
    """The keys that stand in a file for a placement, ``<<`` among them; None where the file has no such placement."""
    text, _ = _body(data, file)
    found = _entry(text, name)
    return _keys(found) if found is not None else None


def written_catalogue(data: bytes) -> bool:
    """Whether a file says a `catalogue`."""
    root = _parsed(_body(data, "")[0])
    return isinstance(root, Entries) and root.find("catalogue") is not None


def written_placements(data: bytes, file: str) -> Mapping[str, tuple[str, ...]]:
    """The same for every placement that stands in a file."""
    section = _section(_body(data, file)[0])
    return {k.text: _keys(found) for k, found in section.entries if isinstance(k, Word)} if section is not None else {}


def _keys(placement: Span) -> tuple[str, ...]:
    return tuple(k.text for k, _ in placement.entries if isinstance(k, Word)) if isinstance(placement, Entries) else ()


def _body(data: bytes, file: str) -> tuple[str, str]:
    text = data.decode("utf-8")
    bom = "\ufeff" if text.startswith("\ufeff") else ""
    return text[len(bom):], bom


def _parsed(text: str) -> Span | None:
    # The reader takes tabs before comments as spaces, one for one: places stay where they are.
    return spans(decoded(text, "")[0])


def _section(text: str) -> Entries | None:
    root = _parsed(text)
    section = root.find("placements") if isinstance(root, Entries) else None
    return section[1] if section is not None and isinstance(section[1], Entries) else None


def _entry(text: str, name: str) -> Span | None:
    section = _section(text)
    found = section.find(name) if section is not None else None
    return found[1] if found is not None else None


def own_placement(text: str, file: str, name: str) -> Entries:
    """The mapping of a placement as it stands in this text. Raises UsageError where it stands elsewhere."""
    found = _entry(text, name)
    if found is None:
        raise UsageError(f"`{name}` does not stand in {file} under a `placements:` of its own, but comes in by an alias or a "
                         "merge (`<<`); write it out to move it")
    if isinstance(found, Alias):
        raise UsageError(f"`{name}` is written as `*{found.name}`: moving it would move every other `*{found.name}` too; "
                         f"write `{name}: {{<<: *{found.name}}}` and it can be moved by itself")
    if not isinstance(found, Entries):
        raise UsageError(f"`{name}` in {file} is not a mapping")
    return found


# ------------------------------------------------------------------------------------------------------------- splices
def _splices(text: str, placement: Entries, name: str, wants: Wants) -> list[Splice]:
    out: list[Splice] = []
    added: list[tuple[str, str]] = []
    for key in wants.names():
        value = getattr(wants, key)
        found = placement.find(key)
        if key in ("set", "calibrated"):
            inside = wants.set if key == "set" else {wants.sensor: wants.calibrated} if wants.sensor else wants.calibrated
            if found is None:
                added.append((key, _flow(inside)))
            else:
                out += _inside(text, found[1], inside, key, name)
            continue
        rival = placement.find("points" if key == "turn" else "turn" if key == "points" else "")
        if found is not None:
            out += value_splices(found[1], value, key, name)
        elif rival is not None:
            out.append(word_splice(rival[0], key, name))
            out += whole_splice(rival[1], fresh(value), name)
        else:
            added.append((key, fresh(value)))
    # Each new key is put behind its own place; those with one place follow one another.
    places: dict[int, list[tuple[str, str]]] = {}
    for key, words in added:
        places.setdefault(_behind(placement, key), []).append((key, words))
    for place, entries in places.items():
        out.append(insertion(text, placement, place, entries, name))
    return sorted(out)


def _flow(value: object) -> str:
    if isinstance(value, Mapping):
        return f"{{{', '.join(f'{k}: {_flow(v)}' for k, v in value.items())}}}"
    return fresh(value)


def _inside(text: str, node: Span, value: object, key: str, name: str) -> list[Splice]:
    """A mapping's entries, each in its place or behind the last; or a whole value in place of another."""
    if not isinstance(value, Mapping) or not isinstance(node, Entries) or not node.entries:
        if isinstance(node, Alias) and isinstance(value, Mapping):
            raise UsageError(f"`{key}` of `{name}` is `*{node.name}`, which others share; write it out to change it")
        return [Splice(node.start, node.end, _flow(value))]
    out: list[Splice] = []
    missing: list[tuple[str, str]] = []
    for word, inner in value.items():
        found = node.find(word)
        if found is None:
            missing.append((word, _flow(inner)))
        elif isinstance(found[1], Word) and isinstance(inner, Decimal):
            plain = found[1].text.strip().endswith(("mm", "m"))
            out.append(word_splice(found[1], f"{fresh(inner)} mm" if plain else unit_like(found[1].text, inner), name))
        else:
            out.append(Splice(found[1].start, found[1].end, _flow(inner)))
    if missing:
        out.append(insertion(text, node, len(node.entries) - 1, missing, name))
    return out


def _behind(placement: Entries, key: str) -> int:
    """The number of the entry that a new key comes after; -1: it comes first."""
    before = _ORDER[: _ORDER.index(key)]
    best = -1
    for number, (word, value) in enumerate(placement.entries):
        if isinstance(word, Word) and word.text in before and not open_ended(value):
            best = number
    return best


# --------------------------------------------------------------------------------------------------------------- guard
def _only_intended(old: str, new: str, file: str, name: str, wants: Wants) -> None:
    """Refuse when the new text says something else anywhere but in the keys that were to change."""
    meant = {("placements", name, key) for key in (*wants.names(), "turn", "points")}
    others: Mapping[str, None] = {
        " > ".join(path[:2]): None for path in changed_paths(old, new, file)
        if path[:3] not in meant}
    if others:
        raise UsageError(f"moving `{name}` would change {', '.join(others)} too, by an anchor that they share; give "
                         f"`{name}` values of its own first")
