"""What a person must do with a screwdriver to turn the old robot into the new one, in words of holes and turns."""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, DeckFacet, PlacedPart
from chassis_describe.space.pose import to_rpy

_QUARTERS = {90: "quarter turn left", -90: "quarter turn right", 180: "half turn", -180: "half turn"}


class Work(NamedTuple):
    """One thing to do. ``verb``: ``move``, ``mount``, ``take off``, ``set``, ``swap`` or ``cut``."""

    verb: str
    name: str
    words: str


def work_between(old: Assembly, new: Assembly, owners: Mapping[str, str]) -> tuple[Work, ...]:
    """In the order of the new layout, what is to be taken off first. ``owners``: old names → new names."""
    out: list[Work] = []
    kept = {owners.get(name, name): placed for name, placed in old.parts.items()}
    out += [Work("take off", name, _place(placed)) for name, placed in kept.items() if name not in new.parts]
    decks = {owners.get(name, name): deck for name, deck in old.decks.items()}
    for name, facet in new.decks.items():
        if name not in decks:
            out.append(Work("mount", name, "a new deck"))
        else:
            out += _deck_work(name, decks[name], facet)
    out += [Work("take off", name, "the deck") for name in decks if name not in new.decks]
    for name, placed in new.parts.items():
        before = kept.get(name)
        if before is None:
            out.append(Work("mount", name, f"{placed.part.name} {_place(placed)}"))
        elif before.part.name != placed.part.name:
            out.append(Work("swap", name, f"{before.part.name} for {placed.part.name}, {_place(placed)}"))
        else:
            words = _moves(before, placed, owners)
            if words:
                out.append(Work("move", name, ", ".join(words)))
            out += _settings(name, before, placed)
    return tuple(out)


def _deck_work(name: str, old: DeckFacet, new: DeckFacet) -> list[Work]:
    out = []
    a, b = old.deck, new.deck
    if _shape_words(old) != _shape_words(new):
        out.append(Work("cut", name, "another plate: its outline, cutouts, thickness or holes have changed"))
    if a.placing is not None and b.placing is not None:
        local_old, local_new = old.pose, new.pose
        shift = [n - o for o, n in zip(local_old.t, local_new.t)]
        turn = math.degrees(to_rpy(new.pose.r)[2] - to_rpy(old.pose.r)[2])
        words = [f"{abs(v) * 1e3:.6g} mm {plus if v > 0 else minus}" for v, (plus, minus) in
                 zip(shift, (("forward", "back"), ("left", "right"), ("up", "down"))) if abs(v) > 1e-7]
        words += _turn_words(turn)
        if words:
            out.append(Work("move", name, ", ".join(words) + " against base_link"))
    return out


def _shape_words(facet: DeckFacet) -> tuple[object, ...]:
    plate = facet.plate
    return (plate.outline, plate.cutouts, plate.slots, plate.thickness, frozenset(plate.holes))


def _place(placed: PlacedPart) -> str:
    placement = placed.placement
    if placement.support == "seat":
        return f"on {placement.on}.{placement.seat}"
    if placement.support == "shaft":
        return f"on the shaft {placement.on}.{placement.shaft}"
    at = f" at [{placed.at[0]:g}, {placed.at[1]:g}]" if placed.at is not None else ""
    return f"on {placement.on} {placed.face}{at}"


def _moves(old: PlacedPart, new: PlacedPart, owners: Mapping[str, str]) -> list[str]:
    """In words against the support; empty where it stays."""
    a, b = old.placement, new.placement
    same_support = (owners.get(a.on, a.on), a.seat, a.shaft, old.face) == (b.on, b.seat, b.shaft, new.face)
    if not same_support:
        return [f"from {_place(old)} to {_place(new)}", *_turn_words(math.degrees(new.turn))]
    words = []
    if old.at is not None and new.at is not None:
        for step, (plus, minus) in zip((n - o for o, n in zip(old.at, new.at)),
                                       (("forward", "back"), ("left", "right"))):
            if abs(step) > 1e-9:
                count = f"{abs(step):g}"
                words.append(f"{count} {'hole' if count == '1' else 'holes'} {plus if step > 0 else minus}")
    words += _turn_words(math.degrees(new.turn - old.turn), below=new.face == "under")
    if abs(b.lift - a.lift) > 1e-9:
        words.append(f"spacers of {b.lift * 1e3:g} mm instead of {a.lift * 1e3:g} mm" if b.lift and a.lift
                     else f"onto spacers of {b.lift * 1e3:g} mm" if b.lift else "off its spacers")
    shift = [n - o for o, n in zip(a.offset, b.offset)]
    words += [f"{abs(v) * 1e3:.6g} mm {plus if v > 0 else minus}" for v, (plus, minus) in
              zip(shift, (("forward", "back"), ("left", "right"), ("up", "down"))) if abs(v) > 1e-9]
    return words


def _turn_words(degrees: float, *, below: bool = False) -> list[str]:
    turn = math.remainder(degrees, 360.0)
    if abs(turn) < 1e-6:
        return []
    seen = ", seen from below" if below else ""
    rounded = round(turn)
    if abs(turn - rounded) < 1e-6 and rounded in _QUARTERS:
        return [_QUARTERS[rounded] + ("" if abs(rounded) == 180 else seen)]
    return [f"{abs(turn):.6g}° {'left' if turn > 0 else 'right'}{seen}"]


def _settings(name: str, old: PlacedPart, new: PlacedPart) -> list[Work]:
    return [Work("set", name, f"{key} from {math.degrees(old.settings[key]):.6g}° to {math.degrees(value):.6g}°")
            for key, value in new.settings.items()
            if key in old.settings and abs(value - old.settings[key]) > 1e-9]
