"""Adjustments of seats from what was read of them: turns and slides, by hand or moving, and what follows what."""
from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Literal

from chassis_describe.layout.language.kinds import Quantity
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.language.table_decks import TURN
from chassis_describe.layout.language.table_parts import TRAVEL, TRAVEL_PER_TIME, TURNS_PER_TIME
from chassis_describe.layout.model import Adjustment, Follows, Motor, PartBody, Seat, Vec2
from chassis_describe.layout.names import slip
from chassis_describe.units import shown
from chassis_describe.values import replace
from chassis_describe.words import amount_words
from chassis_describe.yaml_text.nodes import Node, Scalar

#: SI value of one degree, of one millimetre: the units in which `times` counts.
UNIT = {"turn": math.pi / 180, "slide": 1e-3}
_KEYS_OF_A_LEADER = ("motion", "motor")


def amount(kind: str) -> Quantity:
    """How a value of an adjustment of that kind is read."""
    return TRAVEL if kind == "slide" else TURN


def seat_adjustments(seats: Mapping[str, Taken | None], r: Reading) -> dict[str, tuple[Adjustment, ...]]:
    """The adjustments of a part by seat; faulty ones are left out after a report."""
    drafts: dict[str, list[tuple[Taken, Adjustment]]] = {}
    for seat, taken in seats.items():
        items: Iterable[tuple[Taken, Node]] = taken.get("adjust", ()) if taken is not None else ()
        drafts[seat] = [(t, a) for t, _ in items if (a := _adjustment(t, r)) is not None]
    known = {a.name: a for own in drafts.values() for _, a in own}
    return {seat: tuple(a for t, draft in own if (a := _following(t, draft, known, r)) is not None)
            for seat, own in drafts.items()}


def _adjustment(t: Taken, r: Reading) -> Adjustment | None:
    """One by itself; of one that follows, ``times`` still counts in degrees and mm."""
    before = len(r.findings)
    if "name" in t.values:
        wrong = slip(t.values["name"], True)
        if wrong is not None:
            r.fault("bad-name", f"`{shown(t.values['name'])}` can't be the name of an adjustment: {wrong[0]}", t.at("name"),
                    t.within("name"), hint=wrong[1])
    kind: Literal["turn", "slide"] = t.get("kind")
    motion = t.get("motion")
    span = _range(t, kind, motion, r)
    rest = _amount(t, "rest", amount(kind), r) or 0.0
    if span is not None and not t.has("follows"):
        _rest_in_range(t, kind, span, rest, r)
    follows = _follows(t, kind, r) if t.has("follows") else None
    motor = _motor(t, kind, motion, r)
    if len(r.findings) > before or len(t.values) < len(t.keys) or not all(k in t.values for k in ("name", "axis")):
        return None
    return Adjustment(name=t.get("name"), axis=t.get("axis"), kind=kind, motion=motion, pivot=t.get("pivot"), range=span,
                      rest=rest, motor=motor, follows=follows, mark=t.mark())


def _amount(t: Taken, key: str, kind: Quantity, r: Reading) -> float | None:
    """The value of a key that was kept as written."""
    kept = t.get(key)
    return None if kept is None else kind.read(kept[0], r, kept[1])


def _range(t: Taken, kind: str, motion: str, r: Reading) -> Vec2 | None:
    written = t.get("range")
    if written is None:
        if not t.has("range") and not t.has("follows"):
            r.fault("missing-key", "an adjustment needs `range`", t.node, t.path,
                    hint="how far it goes, like `range: [-30, 30]`; `endless` for a turn without stops")
        return None
    if written == "endless":
        if kind == "slide":
            r.fault("bad-value", "a slide has two ends", t.at("range"), t.within("range"), hint="write both, in mm: "
                    "`range: [0, 60]`")
        return None
    read = [amount(kind).read(node, r, path) for node, path in written]
    low, high = read
    if low is None or high is None:
        return None
    if low > high:
        r.fault("bad-value", "`range` goes up: lowest first", t.at("range"), t.within("range"),
                hint=f"write it as `[{_text(t.at('range'), 1)}, {_text(t.at('range'), 0)}]`")
        return None
    if low == high and motion != "by_hand":
        r.fault("bad-value", "it can't move: both ends of its range are one", t.at("range"), t.within("range"),
                hint="leave `motion` out where nothing moves, or give the range that it has")
    return low, high


def _text(node: Node, index: int) -> str:
    items = getattr(node, "items", None)
    item = items[index] if isinstance(items, list) and len(items) > index else None
    return shown(item.text, 20) if isinstance(item, Scalar) else "…"


def _rest_in_range(t: Taken, kind: str, span: Vec2, rest: float, r: Reading) -> None:
    low, high = span
    if low - 1e-9 <= rest <= high + 1e-9 or t.faulty("rest"):
        return
    key = "rest" if t.has("rest") else "range"
    r.fault("bad-value", f"it rests at {amount_words(rest, kind)}, outside its range of {amount_words(low, kind)} to "
            f"{amount_words(high, kind)}", t.at(key), t.within(key), hint="give a `rest` inside the range")


def _follows(t: Taken, kind: str, r: Reading) -> Follows | None:
    for key in _KEYS_OF_A_LEADER:
        if t.has(key):
            r.fault("meaningless-key", f"`{key}` is that of the adjustment that it follows", t.keys[key], t.within(key),
                    hint=f"leave `{key}` out here")
    own: Taken | None = t.get("follows")
    if own is None or not isinstance(own.get("of"), str):
        return None
    if own.get("times") == 0.0:
        r.fault("bad-value", "with `times: 0` it would not move", own.at("times"), own.within("times"),
                hint="its own degrees or mm, for each degree or mm of the leader")
    plus = _amount(own, "plus", amount(kind), r) or 0.0
    return Follows(of=own.get("of"), times=own.get("times"), plus=plus, mark=own.mark())


def _motor(t: Taken, kind: str, motion: str, r: Reading) -> Motor | None:
    own: Taken | None = t.get("motor")
    if not t.has("motor"):
        if motion == "driven" and not t.has("follows"):
            push = "{torque: 1.2, speed: 60}" if kind == "turn" else "{force: 40, speed: 20}"
            r.fault("missing-key", "a driven adjustment needs `motor`", t.keys["motion"], t.within("motion"),
                    hint=f"what turns or pushes it, like `motor: {push}`")
        return None
    if motion != "driven" and not t.has("follows"):
        why = "nothing commands a free one" if motion == "free" else "this one is set by hand"
        r.fault("meaningless-key", f"a motor drives, and {why}", t.keys["motor"], t.within("motor"),
                hint="write `motion: driven`, or leave the motor out")
        return None
    if own is None:
        return None
    key, wrong = ("torque", "force") if kind == "turn" else ("force", "torque")
    if own.has(wrong):
        r.fault("meaningless-key", f"the motor of a {kind} has a `{key}`", own.keys[wrong], own.within(wrong),
                hint=f"give `{key}`, " + ("in N·m" if kind == "turn" else "in N"))
    speed = _amount(own, "speed", TURNS_PER_TIME if kind == "turn" else TRAVEL_PER_TIME, r)
    if speed is None or own.get(key) is None:
        return None
    return Motor(torque=own.get(key), speed=speed, mark=own.mark())


# ------------------------------------------------------------------------------------------------------------- followers
def _following(t: Taken, draft: Adjustment, known: Mapping[str, Adjustment], r: Reading) -> Adjustment | None:
    """The adjustment with what follows from its leader; chains end at the leader that follows nobody."""
    if draft.follows is None:
        return draft
    times, plus, current = 1.0, 0.0, draft
    chain = [draft.name]
    while current.follows is not None:
        step = current.follows
        leader = known.get(step.of)
        if leader is None:
            if current is draft:
                own: Taken = t.get("follows")
                r.unknown("unknown-name", "an adjustment of this part", step.of, [n for n in known if n != draft.name],
                          own.at("of"), own.within("of"))
            return None
        if leader.name in chain:
            if leader is draft:
                r.fault("bad-value", f"each follows the next: {' → '.join([*chain, leader.name])}", t.keys["follows"],
                        t.within("follows"), hint="one of them has to lead")
            return None
        chain.append(leader.name)
        plus += times * step.plus
        times *= step.times * UNIT[current.kind] / UNIT[leader.kind]
        current = leader
    span: Vec2 | None = None
    rest = times * current.rest + plus
    if current.range is not None:
        ends = [times * v + plus for v in current.range]
        span = (min(ends), max(ends))
    elif draft.kind == "slide":
        r.fault("bad-value", f"a slide can't follow `{current.name}`, which turns without end", t.keys["follows"],
                t.within("follows"), hint=f"give `{current.name}` a range")
        return None
    if not _agrees(t, draft, span, rest, current.name, r):
        return None
    motor = current.motor
    if motor is not None:
        motor = Motor(torque=motor.torque / abs(times), speed=motor.speed * abs(times), mark=motor.mark)
    return replace(draft, range=span, rest=rest, motion=current.motion, motor=motor,
                   follows=Follows(of=current.name, times=times, plus=plus, mark=draft.follows.mark))


def _agrees(t: Taken, draft: Adjustment, span: Vec2 | None, rest: float, leader: str, r: Reading) -> bool:
    """What a follower states itself has to be what follows from its leader."""
    if t.has("rest") and abs(draft.rest - rest) > 1e-9:
        r.fault("bad-value", f"it follows `{leader}` and rests at {amount_words(rest, draft.kind)}", t.at("rest"),
                t.within("rest"), hint="leave `rest` out, or change `plus`")
        return False
    if draft.range is not None and (span is None or span[0] < draft.range[0] - 1e-9 or span[1] > draft.range[1] + 1e-9):
        to = "without end" if span is None else f"from {amount_words(span[0], draft.kind)} to {amount_words(span[1], draft.kind)}"
        r.fault("bad-value", f"`{leader}` takes it {to}, past its range", t.at("range"), t.within("range"),
                hint=f"leave `range` out: it follows from `{leader}`; or narrow that one's")
        return False
    return True


# ---------------------------------------------------------------------------------------------------------- what they move
def moving_bodies(seats: Mapping[str, Seat], bodies: Iterable[PartBody]) -> dict[str, PartBody]:
    """By moving adjustment, a body whose link it is that carries it."""
    out: dict[str, PartBody] = {}
    for body in bodies:
        carrier = carrying(seats, body.moves_with)
        if carrier is not None:
            out.setdefault(carrier.name, body)
    return out


def carrying(seats: Mapping[str, Seat], moves_with: str | None) -> Adjustment | None:
    """The moving adjustment whose link carries what moves with ``seat`` or ``seat.adjustment``; None: the part's own link."""
    seat, _, last = (moves_with or "").partition(".")
    found: Any = None
    for adjustment in seats[seat].adjust if seat in seats else ():
        if adjustment.moves:
            found = adjustment
        if adjustment.name == last:
            break
    return found  # type: ignore[no-any-return]
