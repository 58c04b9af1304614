"""Which frame of one robot is which frame of another, whatever either is called."""
from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.space.pose import Pose

#: Poses closer than these are one place (m, rad): written numbers carry 12 digits, nothing a ruler could see.
SAME_PLACE = 1e-7
SAME_TURN = 1e-7


class FrameKey(NamedTuple):
    """A frame by what it is: of the base, of a deck, of a placement, of a placement's sensor."""

    kind: str  # "root", "base", "deck", "part", "sensor", "optical"
    owner: str
    sensor: str = ""


def frame_keys(assembly: Assembly) -> dict[FrameKey, str]:
    """The name of every frame by what it is, in tree order."""
    keys = {FrameKey("root", ""): assembly.root} if assembly.root != assembly.base else {}
    keys[FrameKey("base", "")] = assembly.base
    keys |= {FrameKey("deck", name): facet.link for name, facet in assembly.decks.items()}
    keys |= {FrameKey("part", name): placed.link for name, placed in assembly.parts.items()}
    for sensor in assembly.sensors:
        keys[FrameKey("sensor", sensor.placement, sensor.sensor.name)] = sensor.frame
        if sensor.optical_frame is not None:
            keys[FrameKey("optical", sensor.placement, sensor.sensor.name)] = sensor.optical_frame
    return keys


def renamed_owners(old: Assembly, new: Assembly) -> Mapping[str, str]:
    """Old name → new name of placements and decks that kept their kind and place and lost only their name."""
    names: dict[str, str] = {}
    gone_decks = [d for d in old.decks.values() if d.deck.name not in new.decks]
    come_decks = [d for d in new.decks.values() if d.deck.name not in old.decks]
    for deck in gone_decks:
        for other in come_decks:
            same = (deck.deck.outline.__class__ is other.deck.outline.__class__
                    and deck.deck.thickness == other.deck.thickness and same_pose(deck.pose, other.pose))
            if same and other.deck.name not in names.values():
                names[deck.deck.name] = other.deck.name
                break
    gone = [p for n, p in old.parts.items() if n not in new.parts]
    come = {n: p for n, p in new.parts.items() if n not in old.parts}
    for placed in gone:
        for name, other_part in come.items():
            if name not in names.values() and _same_part(placed, other_part):
                names[placed.name] = name
                break
    return names


def _same_part(a: PlacedPart, b: PlacedPart) -> bool:
    return a.part.name == b.part.name and same_pose(a.pose, b.pose)


def same_pose(a: Pose, b: Pose) -> bool:
    """Whether two poses are one to within what is written."""
    return (all(abs(x - y) <= SAME_PLACE for x, y in zip(a.t, b.t))
            and all(abs(x - y) <= SAME_TURN for x, y in zip(a.r, b.r)))
