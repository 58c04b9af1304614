"""Where each deck stands: poses of deck frames in the frame of the base deck (DEVELOPERS.md, "Stacking")."""
from __future__ import annotations

from collections.abc import Mapping

from chassis_describe.assembly.attitude import rotation_of
from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.errors import LayoutError
from chassis_describe.findings import Finding, finding
from chassis_describe.layout.model import Deck, FixedTo, Layout, Stacked
from chassis_describe.space.pose import IDENTITY, Pose, rot_z
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import significant


def deck_needs(deck: Deck) -> tuple[str, ...]:
    """The decks that must be placed before this one."""
    if deck.placing is None:
        return ()
    if isinstance(deck.placing, FixedTo):
        return (deck.placing.deck,)
    return tuple(dict.fromkeys((deck.placing.deck, *(group.on for group in deck.placing.standoffs))))


def placed_decks(layout: Layout) -> Mapping[str, Pose]:
    """Pose of every deck frame in the base deck's frame, supports first.

    Raises LayoutError when the standoffs of one deck end at different heights.
    """
    poses: dict[str, Pose] = {}
    faults: list[Finding] = []
    waiting = list(layout.decks.values())
    while waiting:
        ready = [d for d in waiting if all(n in poses for n in deck_needs(d))]
        if not ready:  # the reader refuses loops; standoffs `on` a deck that stands on this one end here
            raise LayoutError(tuple(finding("tree", f"deck {d.name} stands, through its standoffs, on itself",
                                            where=[d.mark], of=[d.name]) for d in waiting))
        for deck in ready:
            poses[deck.name] = _place(deck, layout, poses, faults)
        waiting = [d for d in waiting if d.name not in poses]
    if faults:
        raise LayoutError(tuple(faults))
    return poses


def _place(deck: Deck, layout: Layout, poses: Mapping[str, Pose], faults: list[Finding]) -> Pose:
    placing = deck.placing
    if placing is None:
        return IDENTITY
    if isinstance(placing, FixedTo):
        return poses[placing.deck] @ Pose(rotation_of(placing.attitude), placing.xyz)
    other = layout.decks[placing.deck]
    x, y = lattice_point(other.lattice, placing.shift)
    heights = [(group, _end_height(group.length, layout.decks[group.on], poses, placing)) for group in placing.standoffs]
    z = heights[0][1] if heights else (0.0 if placing.relation == "above" else -other.thickness)
    for group, height in heights[1:]:
        if abs(height - z) > SAME_LENGTH:
            first = heights[0][0]
            faults.append(finding(
                "bad-value", f"the standoffs of deck {deck.name} end at different heights: "
                f"{first.length * 1e3:g} mm on {first.on} and {group.length * 1e3:g} mm on {group.on} "
                f"are {significant(abs(height - z) * 1e3)} mm apart", where=[group.mark, first.mark], of=[deck.name],
                hint="all standoffs of one deck must carry it at one height"))
    if placing.relation == "above":
        z += deck.thickness
    return poses[placing.deck] @ Pose(rot_z(placing.turn), (x, y, z))


def _end_height(length: float, on: Deck, poses: Mapping[str, Pose], placing: Stacked) -> float:
    """Height of the standoffs' far ends over the top face of the deck ``placing.deck`` (m)."""
    in_other = poses[placing.deck].inverse() @ poses[on.name]
    return in_other.t[2] + length if placing.relation == "above" else in_other.t[2] - on.thickness - length
