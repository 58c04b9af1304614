"""Moving a placement by holes: what is asked for, as the keys that the layout has to have; what moves along.

Works on the robot as it is put together, because ``screws``, mirrors and ``points`` say where a part is only together
with everything else. Writes nothing.
"""
from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.errors import UsageError
from chassis_describe.facts.known import known_placement
from chassis_describe.layout.edit import Wants, edited, written_keys
from chassis_describe.layout.model import InputFile
from chassis_describe.space.pose import Pose, rot_z
from chassis_describe.values import dataclass, replace
from chassis_describe.words import pair
from chassis_describe.yaml_text.spelling import number_text, pair_text

Holes = tuple[Decimal, Decimal]

#: Where a part's x points at a turn of so many degrees on the top face; under it left and right change places.
_WORDS = {0: "forward", 90: "left", 180: "back", 270: "right"}
#: Written coordinates closer than this (holes, degrees) are one.
_SAME = 1e-6


@dataclass(frozen=True, kw_only=True)
class Request:
    """What to do with one placement: ``by`` or ``to`` in holes, the new ``turn`` in degrees, support and face; ``set``:
    adjustments, in degrees, of slides in mm."""

    placement: str
    by: Holes | None = None
    to: Holes | None = None
    turn: Decimal | None = None
    on: str | None = None
    face: str | None = None
    set: Mapping[str, Decimal] | None = None


class Edit(NamedTuple):
    """One file with its new content."""

    path: str
    data: bytes


def plan(request: Request, assembly: Assembly, files: Sequence[InputFile]) -> Edit | None:
    """The file to write, or None when the placement is as asked for already.

    ``files``: the layout and what is laid over it, as they were read. Raises UsageError with the reason where the
    request can't be followed.
    """
    placed = _placed(request.placement, assembly)
    if request.on is not None and request.to is None and request.by is None and placed.at is not None \
            and _has_no_lattice(request.on, assembly):
        request = replace(request, to=(Decimal(0), Decimal(0)))  # the old holes mean nothing there
    wants = _wants(request, placed, on_deck=_on_deck(request, placed, assembly))
    if not wants.names():
        return None
    return written(request.placement, wants, files)


def written(name: str, wants: Wants, files: Sequence[InputFile]) -> Edit:
    """The file that says what is wanted of a placement. Raises UsageError with the reason where that can't be done."""
    source = _source(name, wants, files)
    return Edit(source.path, edited(source.data, source.path, name, wants))


def faults(request: Request, old: Assembly, new: Assembly) -> str | None:
    """Why the new robot is not what was asked for; None when it is. The last proof before anything is written."""
    before, after = old.parts[request.placement], new.parts.get(request.placement)
    if after is None:
        return f"`{request.placement}` would be gone"
    at = _new_at(request, before)
    if after.at is not None and at is not None and not _near(after.at, (float(at[0]), float(at[1]))):
        return f"`{request.placement}` would end up at {pair(after.at, 6)} and not at {pair_text(at)}"
    for name, value in (request.set or {}).items():
        unit = 1e3 if any(a.name == name and a.kind == "slide" for a in after.part.adjustments) else math.degrees(1.0)
        if abs(after.settings[name] * unit - float(value)) > _SAME:
            return f"`{name}` of `{request.placement}` would end up at {after.settings[name] * unit:.6g} and not at {value}"
    turn = float(request.turn) if request.turn is not None else math.degrees(before.turn)
    kept = request.turn is not None or (request.on is None and request.face is None)
    if kept and abs(math.remainder(math.degrees(after.turn) - turn, 360.0)) > _SAME:
        return (f"`{request.placement}` would end up turned by {math.degrees(after.turn):.6g}° and not by {turn:.6g}°; its "
                "screws fit both ways round, so give it `points`, or `at` and `turn` instead of `screws`")
    return None


def moved_along(request: Request, old: Assembly, new: Assembly) -> tuple[tuple[str, str], ...]:
    """Placements that moved because they mirror the one that was moved: (name, what it mirrors)."""
    out = []
    for name, placed in new.parts.items():
        first = placed.placement.mirror_of
        chain = first
        while chain is not None and chain != request.placement:
            chain = new.parts[chain].placement.mirror_of
        if first is not None and chain is not None and name in old.parts and _differs(old.parts[name], placed):
            out.append((name, first))
    return tuple(out)


# --------------------------------------------------------------------------------------------------------- what to say
def _placed(name: str, assembly: Assembly) -> PlacedPart:
    if name in assembly.decks:
        raise UsageError(f"`{name}` is a deck; `move` moves placements. A deck stands where its `above`, `below`, `shift` and "
                         "standoffs put it: edit those")
    return known_placement(assembly, name)


def _on_deck(request: Request, placed: PlacedPart, assembly: Assembly) -> bool:
    return request.on in assembly.decks if request.on is not None else placed.placement.support == "deck"


def _has_no_lattice(on: str, assembly: Assembly) -> bool:
    """Whether that is a seat that one point alone is meant by."""
    name, _, seat = on.partition(".")
    placed = assembly.parts.get(name)
    if placed is None:
        return False
    seats = placed.part.seats
    own = [s for s in seats.values() if s.bolts or s.lattice is not None]
    found = seats.get(seat) if seat else own[0] if len(own) == 1 else None
    return found is not None and found.lattice is None


def _wants(request: Request, placed: PlacedPart, *, on_deck: bool) -> Wants:
    name, placement = placed.name, placed.placement
    if placement.support == "shaft" and request.on is None:
        raise UsageError(f"`{name}` is a wheel on a shaft: it stands where `{placement.on}` puts it; move that")
    if request.turn is not None and placement.support == "shaft":
        raise UsageError(f"`{name}` is a wheel on a shaft and has no `turn`")
    if request.on is None:
        _has_holes(request, placed)
    if request.face is not None and placement.support == "seat" and request.on is None:
        raise UsageError(f"`{name}` sits on a seat, which has one side only; `--face` is for decks")
    new_at, turn = _new_at(request, placed), request.turn
    keys = placement.marks
    on = request.on if request.on is not None and request.on != _support(placed) else None
    face = request.face if request.face is not None and request.face != placed.face else None
    moves = new_at is not None and not _near(placed.at or (0.0, 0.0), (float(new_at[0]), float(new_at[1])))
    turns = turn is not None and abs(math.remainder(float(turn) - math.degrees(placed.turn), 360.0)) > _SAME
    if "screws" in keys:
        assert new_at is not None
        holes = _screws(request, placed, new_at) if moves or turns else None
        points = _word(turn, request.face or placed.face) if turns and "points" in keys and turn is not None else None
        if turns and "points" in keys and points is None:
            raise UsageError(f"`{name}` says where it `points`, and {turn}° is no quarter turn; give it `at` and `turn` "
                             "instead of `screws` and `points`")
        return Wants(screws=holes, points=points, on=on, face=face, set=request.set)
    if "points" in keys and not on_deck and turn is None:
        # A seat has no forward and left of its own: the turn says the same in degrees.
        turn, turns = _decimal(round(math.degrees(placed.turn), 9)), True
    word = _word(turn, request.face or placed.face) if turn is not None and "points" in keys and on_deck else None
    turns = turns or ("points" in keys and not on_deck)
    return Wants(at=new_at if moves else None, turn=turn if turns and word is None else None,
                 points=word if turns else None, on=on, face=face, set=request.set)


def _support(placed: PlacedPart) -> str:
    p = placed.placement
    return f"{p.on}.{p.seat or p.shaft}" if p.support != "deck" else p.on


def _has_holes(request: Request, placed: PlacedPart) -> None:
    """Refuse a move over holes where the support has none."""
    wanted = request.by if request.by is not None else request.to
    if placed.at is not None or wanted is None or not any(wanted):
        return
    carrier = placed.placement.on
    if placed.placement.support == "seat":
        raise UsageError(f"`{placed.name}` sits on a seat of `{carrier}`, and this seat has no lattice to count holes on; "
                         f"move `{carrier}`, or shift `{placed.name}` with `offset`, in mm")
    raise UsageError(f"`{placed.name}` is on `{carrier}`, which has no lattice; shift it with `offset`, in mm")


def _new_at(request: Request, placed: PlacedPart) -> Holes | None:
    if request.to is not None:
        return request.to
    if placed.at is None and (request.on is None or request.by is None):
        return None
    old = (Decimal(0), Decimal(0)) if placed.at is None else (_decimal(placed.at[0]), _decimal(placed.at[1]))
    return (old[0] + request.by[0], old[1] + request.by[1]) if request.by is not None else old


def _decimal(value: float) -> Decimal:
    """A coordinate as it was written; the last bits of one that was found from screws are rounding."""
    exact = Decimal(repr(value))
    short = Decimal(repr(round(value, 9)))
    return short if abs(exact - short) < Decimal("1e-12") else exact


def _screws(request: Request, placed: PlacedPart, new_at: Holes) -> tuple[tuple[int, int], ...]:
    """The holes of the screws after the move: shifted, and turned about the part's origin."""
    assert placed.placement.screws is not None
    assert placed.at is not None
    degrees = float(request.turn) - math.degrees(placed.turn) if request.turn is not None else 0.0
    face = request.face or placed.face
    turn = Pose(rot_z(math.radians(-degrees if face == "under" else degrees)))
    out = []
    for hole in placed.placement.screws:
        x, y, _ = turn.point((hole[0] - placed.at[0], hole[1] - placed.at[1], 0.0))
        i, j = x + float(new_at[0]), y + float(new_at[1])
        if abs(i - round(i)) > _SAME or abs(j - round(j)) > _SAME:
            raise UsageError(_no_hole(request, placed, (i, j)))
        out.append((round(i), round(j)))
    return tuple(out)


def _no_hole(request: Request, placed: PlacedPart, point: tuple[float, float]) -> str:
    assert placed.at is not None
    where = (f"`{placed.name}` is held by `screws`, and one of them would stand at {pair(point, 6)}, where no hole can be")
    if request.turn is not None:
        return f"{where}; give it `at` and `turn` instead of `screws`"
    if request.to is not None:
        return f"{where}: its origin is at {pair(placed.at, 6)} now, so move it to whole holes from there"
    return f"{where}: move it by whole holes"


def _word(turn: Decimal, face: str | None) -> str | None:
    degrees = -turn if face == "under" else turn
    return _WORDS.get(int(degrees) % 360) if degrees == int(degrees) else None


def _near(a: Sequence[float], b: Sequence[float]) -> bool:
    return all(abs(x - y) <= _SAME for x, y in zip(a, b))


def _differs(a: PlacedPart, b: PlacedPart) -> bool:
    return (a.at, a.turn, a.face, a.placement.on) != (b.at, b.turn, b.face, b.placement.on)


# ----------------------------------------------------------------------------------------------------- where it stands
def _source(name: str, wants: Wants, files: Sequence[InputFile]) -> InputFile:
    """The one file to edit: where the keys stand that hold, the last overlay that has them; new keys go to the first."""
    written = [(f, keys) for f in files if (keys := written_keys(f.data, f.path, name)) is not None]
    if not written:
        raise UsageError(f"`{name}` comes in by an alias or a merge (`<<`) of the whole of `placements`; write it out to "
                         "move it")
    chosen = [next((f for f, keys in reversed(written) if _says(key, keys)), written[0][0]) for key in wants.names()]
    if any(f is not chosen[0] for f in chosen):
        listed = ", ".join(f"`{key}` in {f.path}" for key, f in zip(wants.names(), chosen))
        raise UsageError(f"`{name}` would have to be changed in several files ({listed}); do it in several moves")
    return chosen[0]


def _says(key: str, keys: Collection[str]) -> bool:
    rival = {"turn": "points", "points": "turn"}.get(key)
    return key in keys or rival in keys


__all__ = ["Edit", "Request", "faults", "moved_along", "number_text", "plan", "written"]
