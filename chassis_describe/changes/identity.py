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
    """A frame by what it is: of the base, of a deck, of a placement, of a placement's sensor or joint."""

    kind: str  # "root", "base", "deck", "part", "sensor", "optical", "described" (of which `sensor` is the plain
    # name), "moving" (a link of a joint of ours: what its name adds to the placement's)
    owner: str
    sensor: str = ""


def frame_keys(assembly: Assembly) -> dict[FrameKey, str]:
    """The name of every frame by what it is, in tree order."""
    keys = {FrameKey("root", ""): assembly.root} if assembly.root != assembly.base else {}
    keys[FrameKey("base", "")] = assembly.base
    keys |= {FrameKey("deck", name): facet.link for name, facet in assembly.decks.items()}
    keys |= {FrameKey("part", name): placed.link for name, placed in assembly.parts.items()}
    keys |= {FrameKey("described", name, link): frame for name, placed in assembly.parts.items()
             for link, frame in placed.described.items()}
    for sensor in assembly.sensors:
        if sensor.sensor.link is not None:
            continue  # its frame is a link of a description
        keys[FrameKey("sensor", sensor.placement, sensor.sensor.name)] = sensor.frame
        if sensor.optical_frame is not None:
            keys[FrameKey("optical", sensor.placement, sensor.sensor.name)] = sensor.optical_frame
    known = set(keys.values())
    for link in assembly.links:
        if link.name not in known and link.owner in assembly.parts:
            own = link.name.removeprefix(f"{assembly.prefix}{link.owner}_")
            keys[FrameKey("moving", link.owner, own)] = link.name
    return keys


def renamed_owners(old: Assembly, new: Assembly) -> Mapping[str, str]:
    """Old name → new name of decks and placements that kept their kind and place and lost only their name.

    The place counts from the base deck: base_link stands somewhere else as soon as a driven wheel moves.
    """
    names: dict[str, str] = {}
    before, after = base_in_base_deck(old), base_in_base_deck(new)
    come_decks = {n: d for n, d in new.decks.items() if n not in old.decks}
    for name, deck in old.decks.items():
        if name not in new.decks:
            place = before @ deck.pose
            found = next((n for n, d in come_decks.items()
                          if _same_deck(deck, d) and same_pose(place, after @ d.pose)), None)
            if found is not None:
                names[name] = found
                del come_decks[found]
    come: dict[str, dict[str, Pose]] = {}  # by the name of the part
    for name, placed in new.parts.items():
        if name not in old.parts:
            come.setdefault(placed.part.name, {})[name] = after @ placed.pose
    for name, placed in old.parts.items():
        alike = come.get(placed.part.name)
        if alike and name not in new.parts:
            place = before @ placed.pose
            found = next((n for n, pose in alike.items() if same_pose(place, pose)), None)
            if found is not None:
                names[name] = found
                del alike[found]
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
