"""An adapter put between a deck and a placement in the text of a layout, every other byte left as it is."""
from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal

from chassis_describe.errors import UsageError
from chassis_describe.layout.edit import own_placement
from chassis_describe.values import dataclass
from chassis_describe.yaml_text.guard import changed_paths
from chassis_describe.yaml_text.nodes import decoded
from chassis_describe.yaml_text.removal import removals
from chassis_describe.yaml_text.spans import Alias, Entries, Items, Word, spans
from chassis_describe.yaml_text.spelling import number_text, text_like
from chassis_describe.yaml_text.splice import Splice, insertion, item_behind, open_ended, spliced, whole_splice, word_splice

#: Keys of a placement on a deck that say where it is there.
PLACE_KEYS = ("face", "at", "screws", "turn", "points", "offset")


@dataclass(frozen=True, kw_only=True)
class Between:
    """``placement`` is to sit on ``adapter``, a new placement that says ``line`` (in flow style), lifted by ``lift`` (mm, 0: not).
    ``part_file``: as it is to stand under `catalogue`; ``shelves``: what stands there in a file that this one is laid over, and is
    to be said again where this file has no `catalogue` of its own, since a list replaces another."""

    placement: str
    adapter: str
    line: str
    lift: Decimal
    part_file: str
    shelves: tuple[str, ...] = ()


def put_between(data: bytes, file: str, wants: Between) -> bytes:
    """The file so changed. Raises UsageError with the reason where that can't be done in place."""
    whole = data.decode("utf-8")
    bom = "\ufeff" if whole.startswith("\ufeff") else ""
    text = whole[len(bom):]
    placement = own_placement(text, file, wants.placement)
    root = spans(decoded(text, "")[0])
    assert isinstance(root, Entries)
    section = root.find("placements")
    assert section is not None and isinstance(section[1], Entries)
    new = spliced(text, [*_placement(text, placement, wants), _new_placement(text, section[1], wants),
                         *_catalogue(text, root, wants, file)])
    meant = {("placements", wants.adapter), ("catalogue",),
             *(("placements", wants.placement, k) for k in ("on", "lift", *PLACE_KEYS))}
    try:
        changed = changed_paths(text, new, file)
    except UsageError as error:  # what others refer to by an anchor would be gone
        raise UsageError(f"putting `{wants.adapter}` under `{wants.placement}` can't be done in place: {error}; write the lines by "
                         "hand") from error
    other = {" > ".join(p): None for p in changed
             if p[:2] not in meant and p[:3] not in meant and p[:1] != ("catalogue",)}
    if other:
        raise UsageError(f"putting `{wants.adapter}` under `{wants.placement}` would change {', '.join(other)} too, by an anchor "
                         "that they share; write the lines by hand")
    return (bom + new).encode("utf-8")


def _placement(text: str, placement: Entries, wants: Between) -> list[Splice]:
    name = wants.placement
    on = placement.find("on")
    if on is None:
        raise UsageError(f"`{name}` takes over its `on` from elsewhere (`<<`); write it out, or write the lines by hand")
    gone: Collection[str] = {k for k in (*PLACE_KEYS, *(() if wants.lift else ("lift",))) if placement.find(k) is not None}
    out = [*whole_splice(on[1], wants.adapter, name), *removals(text, placement, gone, name)]
    lift = placement.find("lift")
    if wants.lift and lift is not None:
        if isinstance(lift[1], Word) and lift[1].text.strip() != number_text(wants.lift):
            out.append(word_splice(lift[1], number_text(wants.lift), name))
        elif isinstance(lift[1], Alias):
            out += whole_splice(lift[1], number_text(wants.lift), name)
    elif wants.lift:
        place = next(n for n, (key, _) in enumerate(placement.entries) if isinstance(key, Word) and key.text == "on")
        out.append(insertion(text, placement, place, [("lift", number_text(wants.lift))], name))
    return out


def _new_placement(text: str, section: Entries, wants: Between) -> Splice:
    place = next(n for n, (key, _) in enumerate(section.entries) if isinstance(key, Word) and key.text == wants.placement)
    while place >= 0 and open_ended(section.entries[place][1]):
        place -= 1  # behind a block of text nothing can be put without counting its lines
    return insertion(text, section, place, [(wants.adapter, wants.line)], wants.adapter)


def _catalogue(text: str, root: Entries, wants: Between, file: str) -> list[Splice]:
    """The part file named under `catalogue`, which is made where there is none."""
    words = text_like("", wants.part_file)
    found = root.find("catalogue")
    if found is None:
        places: Mapping[str, int] = {key.text: n for n, (key, value) in enumerate(root.entries)
                                     if isinstance(key, Word) and not open_ended(value)}
        place = max((places[k] for k in ("layout", "robot", "lattice") if k in places), default=-1)
        whole = ", ".join(text_like("", shelf) for shelf in dict.fromkeys((*wants.shelves, wants.part_file)))
        return [insertion(text, root, place, [("catalogue", f"[{whole}]")], "catalogue")]
    node = found[1]
    if not isinstance(node, Items):
        raise UsageError(f"`catalogue` in {file} is not written as a list of its own; add {words} to it by hand")
    if any(isinstance(item, Word) and item.text == wants.part_file for item in node.items):
        return []
    if not node.items:
        return [Splice(node.start, node.end, f"[{words}]")]
    return [item_behind(text, node, words)]
