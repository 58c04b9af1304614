"""The drive from what was read of it: which keys its kind takes, wheels that are wheels, adjustments that can steer."""
from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from chassis_describe.errors import never
from chassis_describe.layout.language.reading import KeyPath, Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.model import Drive, DriveKind, Placement, Steered
from chassis_describe.source import Mark
from chassis_describe.words import amount_words
from chassis_describe.yaml_text.nodes import Node, mark_of

_LISTS = ("left", "right", "wheels", "steer")
#: What stands behind a key in a hint.
_LIKE = {"left": "[wheel_left]", "right": "[wheel_right]", "wheels": "[wheel_1, wheel_2, wheel_3]",
         "steer": "[knuckle_left.hub.steer, knuckle_right.hub.steer]"}


def read_drive(taken: Taken, declared: Mapping[str, Any], placements: Mapping[str, Placement], r: Reading) -> Drive | None:
    """The drive, when its wheels are wheels. ``declared``: all placements of the file, good or not."""
    before = len(r.findings)
    kind: DriveKind | None = taken.get("kind")
    if kind is not None:
        _keys(kind, taken, r)
    seen: dict[str, Mark] = {}
    lists: dict[str, tuple[str, ...]] = {}
    for key in _LISTS[:3]:
        path = taken.within(key)
        for name, node in taken.get(key, ()):
            _wheel(name, node, path, declared, placements, r)
            if name in seen:
                r.fault("bad-value", f"`{name}` stands twice", node, path, also=[seen[name]],
                        hint="each wheel stands once" if key == "wheels" else "each wheel is on one side, once")
            seen[name] = mark_of(node, path)
        lists[key] = tuple(name for name, _ in taken.get(key, ()))
    steer = tuple(s for name, node in taken.get("steer", ())
                  if (s := _steered(name, node, taken.within("steer"), declared, placements, r)) is not None)
    for again in (s for n, s in enumerate(steer) if s[:3] in [t[:3] for t in steer[:n]]):
        r.fault("bad-value", f"`{'.'.join(again[:3])}` stands twice", taken.at("steer"), taken.within("steer"),
                hint="left first, then right; one alone for a tricycle")
    _counts(kind, taken, r)
    if kind is None:
        return None
    if len(r.findings) > before or any(taken.faulty(key) for key in _keys_of(kind)):
        return None
    return Drive(kind=kind, left=lists["left"], right=lists["right"], around=lists["wheels"], steer=steer, mark=taken.mark())


def _keys_of(kind: DriveKind) -> tuple[str, ...]:
    """The lists that a kind of drive needs, and takes."""
    if kind == "differential" or kind == "skid_steer" or kind == "mecanum":
        return "left", "right"
    if kind == "omni":
        return ("wheels",)
    if kind == "ackermann":
        return "left", "right", "steer"
    raise never(kind)


def _keys(kind: DriveKind, taken: Taken, r: Reading) -> None:
    """Report keys that are missing, and those that mean nothing for the kind."""
    due = _keys_of(kind)
    for key in _LISTS:
        if key in due and not taken.has(key):
            r.fault("missing-key", f"{'an' if kind[0] in 'ao' else 'a'} {kind} drive needs `{key}`", taken.node, taken.path,
                    hint=f"write `{key}: {_LIKE[key]}`")
        elif key not in due and taken.has(key):
            r.fault("meaningless-key", f"`{key}` means nothing for {'an' if kind[0] in 'ao' else 'a'} {kind} drive",
                    taken.keys[key], taken.within(key), hint=f"it takes {' and '.join(f'`{k}`' for k in due)}")


def _counts(kind: DriveKind | None, taken: Taken, r: Reading) -> None:
    """Report lists of the wrong length."""
    left, right = len(taken.get("left", ())), len(taken.get("right", ()))
    steer = len(taken.get("steer", ()))
    if kind == "omni":
        return
    if left and right and left != right:
        r.fault("bad-value", f"{left} wheel{'s' if left > 1 else ''} on the left and {right} on the right",
                taken.keys["right"], taken.within("right"), hint="both sides have the same number of driven wheels",
                also=[taken.mark("left")])
    elif not left or not right or kind is None or kind == "differential":
        return
    elif kind == "mecanum":
        if left != 2:
            r.fault("bad-value", f"a mecanum drive has four wheels, not {left + right}", taken.keys["left"],
                    taken.within("left"), hint="`left: [front, rear]` and `right: [front, rear]`")
    elif kind == "skid_steer":
        if left < 2:
            r.fault("bad-value", "a skid-steer drive has at least two driven wheels on each side", taken.keys["left"],
                    taken.within("left"), hint="with one on each side write `kind: differential`")
    elif kind == "ackermann":
        if left != 1:
            r.fault("bad-value", f"an ackermann drive has two driven wheels, not {left + right}", taken.keys["left"],
                    taken.within("left"), hint="`left: [wheel_left]` and `right: [wheel_right]`, on one axle")
        if steer > 2:
            r.fault("bad-value", f"an ackermann drive steers by one or two adjustments, not {steer}", taken.keys["steer"],
                    taken.within("steer"), hint="left first, then right; one alone for a tricycle")
    else:
        raise never(kind)


def _wheel(name: str, node: Node, path: KeyPath, declared: Mapping[str, Any],
           placements: Mapping[str, Placement], r: Reading) -> None:
    if name not in declared:
        wheels = [n for n, p in placements.items() if p.part.wheel is not None]
        r.unknown("unknown-name", "a placement", name, wheels or declared, node, path)
        return
    placed = placements.get(name)
    if placed is not None and placed.part.wheel is None:
        r.fault("bad-value", f"`{name}` is no wheel: its part `{placed.part.name}` has no key `wheel`", node, path,
                hint="name the wheel, not the motor that turns it", also=[placed.mark])


def _steered(name: str, node: Node, path: KeyPath, declared: Mapping[str, Any], placements: Mapping[str, Placement],
             r: Reading) -> Steered | None:
    """The adjustment that a name stands for, when a motor of its own turns it."""
    known = {f"{n}.{seat.name}.{a.name}": a for n, p in placements.items() for seat in p.part.seats.values()
             for a in seat.adjust}
    adjustment = known.get(name)
    if adjustment is None:
        if name.partition(".")[0] in declared and name.partition(".")[0] not in placements:
            return None  # what is wrong with that placement is said there
        good = [n for n, a in known.items() if a.motion == "driven" and a.kind == "turn" and a.follows is None]
        r.unknown("unknown-name", "a driven adjustment (`placement.seat.adjustment`)", name, good or known, node, path)
        return None
    placement, seat, own = name.split(".")
    why = "slides" if adjustment.kind == "slide" else f"follows `{adjustment.follows.of}`" if adjustment.follows else \
        "is set by hand" if adjustment.motion == "by_hand" else "is free: no motor turns it" if adjustment.motion == "free" else ""
    if not why and adjustment.range is not None and not adjustment.range[0] < 0.0 < adjustment.range[1]:
        low, high = (amount_words(v, "turn") for v in adjustment.range)
        why = f"goes from {low} to {high}, and straight ahead is 0"
    if why:
        r.fault("bad-value", f"`{name}` can't steer: it {why}", node, path, also=[adjustment.mark],
                hint="a turn with `motion: driven` and a `motor` of its own steers, to both sides of 0")
        return None
    return Steered(placement, seat, own, mark_of(node, path))
