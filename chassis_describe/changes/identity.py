"""Which frame of one robot is which frame of another, whatever either is called."""
from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, DeckFacet
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
    """Old name → new name of decks and placements that kept their kind and place and lost only their name.

    The place counts from the base deck: base_link stands somewhere else as soon as a driven wheel moves.
    """
    names: dict[str, str] = {}
    before, after = base_in_base_deck(old), base_in_base_deck(new)
    come_decks = [d for d in new.decks.values() if d.deck.name not in old.decks]
    for deck in old.decks.values():
        if deck.deck.name not in new.decks:
            for other in come_decks:
                if other.deck.name not in names.values() and _same_deck(deck, other) and same_pose(
                        before @ deck.pose, after @ other.pose):
                    names[deck.deck.name] = other.deck.name
                    break
    come = {n: p for n, p in new.parts.items() if n not in old.parts}
    for placed in old.parts.values():
        if placed.name not in new.parts:
            for name, other_part in come.items():
                if name not in names.values() and placed.part.name == other_part.part.name and same_pose(
                        before @ placed.pose, after @ other_part.pose):
                    names[placed.name] = name
                    break
    return names


def base_in_base_deck(assembly: Assembly) -> Pose:
    """base_link in the frame of the base deck: where the robot counts from, against what is bolted."""
    return assembly.decks[assembly.layout.base_deck.name].pose.inverse()


def _same_deck(a: DeckFacet, b: DeckFacet) -> bool:
    return a.plate.outline == b.plate.outline and a.plate.thickness == b.plate.thickness


def same_pose(a: Pose, b: Pose) -> bool:
    """Whether two poses are one to within what is written."""
    return (all(abs(x - y) <= SAME_PLACE for x, y in zip(a.t, b.t))
            and all(abs(x - y) <= SAME_TURN for x, y in zip(a.r, b.r)))
