"""What a person must do with a screwdriver to turn the old robot into the new one, in words of holes and turns."""
from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, DeckFacet, PlacedPart
from chassis_describe.changes.identity import base_in_base_deck, same_pose
from chassis_describe.facts.headings import whose_forward
from chassis_describe.facts.looks import direction
from chassis_describe.layout.model import Stacked
from chassis_describe.space.pose import Pose, multiply, transpose
from chassis_describe.tolerances import SAME_ANGLE
from chassis_describe.words import amount_words, mm, steps

_QUARTERS = {90: "quarter turn left", -90: "quarter turn right", 180: "half turn", -180: "half turn"}


class Work(NamedTuple):
    """One thing to do. ``verb``: ``move``, ``mount``, ``take off``, ``set``, ``swap`` or ``cut``."""

    verb: str
    name: str
    words: str


def work_between(old: Assembly, new: Assembly, owners: Mapping[str, str]) -> tuple[Work, ...]:
    """In the order of the new layout, what is to be taken off first. ``owners``: old names → new names."""
    out: list[Work] = []
    turned = base_in_base_deck(new).inverse() @ base_in_base_deck(old)
    kept = {owners.get(name, name): placed for name, placed in old.parts.items()}
    out += [Work("take off", name, _place(placed)) for name, placed in kept.items() if name not in new.parts]
    decks = {owners.get(name, name): deck for name, deck in old.decks.items()}
    for name, facet in new.decks.items():
        if name not in decks:
            out.append(Work("mount", name, f"a new deck, {_stands(facet)}"))
        else:
            out += _deck_work(new, name, decks[name], facet, owners, turned)
    out += [Work("take off", name, "the deck") for name in decks if name not in new.decks]
    for name, placed in new.parts.items():
        before = kept.get(name)
        if before is None:
            out.append(Work("mount", name, f"{placed.part.name} {_place(placed)}{_pointing(placed)}"))
        elif before.part.name != placed.part.name:
            out.append(Work("swap", name, f"{before.part.name} for {placed.part.name}, {_place(placed)}{_pointing(placed)}"))
        else:
            words = _moves(new, before, placed, owners, turned)
            if words:
                out.append(Work("move", name, ", ".join(words)))
            out += _settings(name, before, placed)
    return tuple(out)


def _deck_work(assembly: Assembly, name: str, old: DeckFacet, new: DeckFacet, owners: Mapping[str, str],
               turned: Pose) -> list[Work]:
    """``turned``: the old base_link in the new one, as far as the base deck is the same."""
    out = []
    if _plate(old) != _plate(new):
        out.append(Work("cut", name, f"another plate: {_plate_words(old, new)}"))
    a, b = old.deck.placing, new.deck.placing
    if a is None and b is None:
        return out
    if a is None or b is None or type(a) is not type(b) or owners.get(a.deck, a.deck) != b.deck:
        return [*out, Work("move", name, _stands(new))]
    words: list[str] = []
    if isinstance(a, Stacked) and isinstance(b, Stacked):
        if a.relation != b.relation:
            words.append(f"{b.relation} {b.deck} instead of {a.relation} it")
        words += _said((b.shift[0] - a.shift[0], b.shift[1] - a.shift[1]), assembly, b.deck)
        words += _turn_words(math.degrees(b.turn - a.turn), "" if _upright(assembly.decks[b.deck].pose) else
                             f", seen from the top face of {b.deck}")
        words += _standoff_words(a, b, owners)
    else:
        local_old, local_new = turned @ old.pose, new.pose
        words += _millimetres([n - o for o, n in zip(local_old.t, local_new.t)])
        if not same_pose(Pose(local_old.r), Pose(local_new.r)):
            by = Pose(multiply(local_new.r, transpose(local_old.r)))
            words += _turn_words(math.degrees(math.atan2(by.r[3], by.r[0]))) if _upright(by) else ["tilted otherwise"]
    if words:
        out.append(Work("move", name, ", ".join(words)))
    return out


def _stands(facet: DeckFacet) -> str:
    placing = facet.deck.placing
    if placing is None:
        return "it is the base deck now"
    return f"{placing.relation} {placing.deck}" if isinstance(placing, Stacked) else f"fixed to {placing.deck}"


def _standoff_words(a: Stacked, b: Stacked, owners: Mapping[str, str]) -> list[str]:
    lengths = [sorted({g.length for g in s.standoffs}) for s in (a, b)]
    if lengths[0] != lengths[1]:
        was, now = (" and ".join(f"{v * 1e3:g}" for v in group) for group in lengths)
        return [f"standoffs of {now} mm instead of {was} mm"]
    holes = [sorted((names.get(g.on, g.on), h) for g in s.standoffs for h in g.holes) for s, names in ((a, owners), (b, {}))]
    if holes[0] != holes[1]:
        moved = [h for on, h in holes[1] if (on, h) not in holes[0]]
        return ["standoffs at " + ", ".join(f"[{i:g}, {j:g}]" for i, j in moved)] if moved else ["fewer standoffs"]
    return []


def _plate(facet: DeckFacet) -> tuple[object, ...]:
    plate = facet.plate
    return (plate.outline, plate.cutouts, plate.slots, plate.thickness, frozenset(plate.holes), facet.deck.material,
            facet.deck.density)


def _plate_words(old: DeckFacet, new: DeckFacet) -> str:
    a, b = old.plate, new.plate
    words = []
    if a.outline != b.outline:
        words.append("another outline")
    if a.thickness != b.thickness:
        words.append(f"{mm(b.thickness)} thick instead of {mm(a.thickness)}")
    if a.cutouts != b.cutouts:
        words.append("other cutouts")
    if (frozenset(a.holes), a.slots) != (frozenset(b.holes), b.slots):
        more = len(b.holes) + len(b.slots) - len(a.holes) - len(a.slots)
        words.append(f"{abs(more)} {'holes' if abs(more) != 1 else 'hole'} {'more' if more > 0 else 'fewer'}" if more
                     else "holes in other places")
    if (old.deck.material, old.deck.density) != (new.deck.material, new.deck.density):
        words.append(f"of {new.deck.material or 'another material'}")
    return ", ".join(words)


def _place(placed: PlacedPart) -> str:
    placement = placed.placement
    if placement.support == "seat":
        return f"on {placement.on}.{placement.seat}"
    if placement.support == "shaft":
        return f"on the shaft {placement.on}.{placement.shaft}"
    at = f" at [{placed.at[0]:g}, {placed.at[1]:g}]" if placed.at is not None else ""
    return f"on {placement.on} {placed.face}{at}"


def _upright(pose: Pose) -> bool:
    """Whether what is up in one frame is up in the other."""
    return pose.z_axis[2] > 1.0 - SAME_ANGLE


def _said(holes: Sequence[float], assembly: Assembly, deck: str | None) -> list[str]:
    """Steps from hole to hole on a deck or (None) a seat, and whose directions they are where they are not the robot's."""
    words = steps(holes, on_deck=deck is not None)
    return [*words[:-1], f"{words[-1]}{whose_forward(assembly, deck)}"] if words else []


def _moves(assembly: Assembly, old: PlacedPart, new: PlacedPart, owners: Mapping[str, str], turned: Pose) -> list[str]:
    """In words against the support; empty where it stays. ``turned``: the old base_link in the new one."""
    a, b = old.placement, new.placement
    same_support = (owners.get(a.on, a.on), a.seat, a.shaft, old.face) == (b.on, b.seat, b.shaft, new.face)
    words = []
    if same_support:
        if old.at is not None and new.at is not None:
            words += _said((new.at[0] - old.at[0], new.at[1] - old.at[1]), assembly, new.deck)
        words += _turn_words(math.degrees(new.turn - old.turn), _seen_from(new))
    else:  # turns on two supports, or on two faces, don't compare; where it points in the robot does
        words.append(f"from {_place(old).removeprefix('on ')} to {_place(new).removeprefix('on ')}")
        if b.support != "shaft" and direction((turned @ old.pose).x_axis) != direction(new.pose.x_axis):
            words.append(f"pointing {direction(new.pose.x_axis)}")
    if abs(b.lift - a.lift) > 1e-9:
        words.append(f"spacers of {mm(b.lift)} instead of {mm(a.lift)}" if b.lift and a.lift
                     else f"onto spacers of {mm(b.lift)}" if b.lift else "off its spacers")
    words += _off_its_hole(assembly, new, [n - o for o, n in zip(a.offset, b.offset)])
    if old.fixing != new.fixing:
        words.append(f"held by {_FIXED.get(new.fixing, new.fixing)} instead of {_FIXED.get(old.fixing, old.fixing)}")
    return words


def _off_its_hole(assembly: Assembly, new: PlacedPart, shift: Sequence[float]) -> list[str]:
    """A change of `offset`, which counts along the axes of the deck or seat."""
    if new.deck is not None:
        words = _millimetres(shift)
        return [*(f"{w} off its hole" for w in words[:-1]),
                *(f"{w} off its hole{whose_forward(assembly, new.deck)}" for w in words[-1:])]
    return [f"{mm(abs(v))} along {'+' if v > 0 else '-'}{axis} of the seat" for axis, v in zip("xyz", shift) if abs(v) > 1e-7]


def _seen_from(placed: PlacedPart) -> str:
    """From where a turn to the left is counter-clockwise (turns are seen from outside), where it is not from above."""
    out = placed.pose.z_axis[2]
    if out > 1.0 - SAME_ANGLE:
        return ""
    if placed.deck is None:
        return ", seen from outside"
    return ", seen from below" if out < SAME_ANGLE - 1.0 else f", seen from the {placed.face} face"


def _pointing(placed: PlacedPart) -> str:
    """Where the front of a part points in the robot, where it is not forward."""
    said = direction(placed.pose.x_axis)
    return "" if placed.placement.support == "shaft" or said == "forward" else f", pointing {said}"


_FIXED = {"bolts": "its bolts", "adhesive": "adhesive", "strap": "a strap", "none": "nothing"}


def _millimetres(shift: Sequence[float]) -> list[str]:
    return [f"{mm(abs(v))} {plus if v > 0 else minus}" for v, (plus, minus) in
            zip(shift, (("forward", "back"), ("left", "right"), ("up", "down"))) if abs(v) > 1e-7]


def _turn_words(degrees: float, seen: str = "") -> list[str]:
    """A turn, counter-clockwise to the left; ``seen``: from where."""
    turn = math.remainder(degrees, 360.0)
    if abs(turn) < 1e-6:
        return []
    rounded = round(turn)
    if abs(turn - rounded) < 1e-6 and rounded in _QUARTERS:
        return [_QUARTERS[rounded] + ("" if abs(rounded) == 180 else seen)]
    return [f"{abs(turn):.6g}° {'left' if turn > 0 else 'right'}{seen}"]


def _settings(name: str, old: PlacedPart, new: PlacedPart) -> list[Work]:
    """Adjustments that are set by hand; what a motor moves is no work for a screwdriver."""
    return [Work("set", name, f"{a.name} from {amount_words(old.settings[a.name], a.kind)} to "
                 f"{amount_words(new.settings[a.name], a.kind)}")
            for a in new.part.adjustments
            if not a.moves and a.name in old.settings and abs(new.settings[a.name] - old.settings[a.name]) > 1e-9]
