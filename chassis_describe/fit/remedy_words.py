"""What to do about a part in the wrong place, in the words and keys of the layout."""
from __future__ import annotations

import math
import shlex

from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.free_places import (
    Position,
    lattice_of,
    mirrored,
    nearest_blocked,
    nearest_position,
    off_lattice,
    opposite,
    search_given_up,
    shift_of,
    who_is_there,
)
from chassis_describe.facts.headings import whose_forward
from chassis_describe.layout.model import Lattice, Layout, Placement
from chassis_describe.words import pair, plain, steps

#: The hint where so many things are wrong that what to do is looked for in the first of them alone.
MEND_FIRST = "mend the others, check again"


def owner_words(owner: tuple[str, str]) -> str:
    """The owner of a body or hole as a message names it."""
    return {"plate": f"deck {owner[1]}", "standoff": f"a standoff on {owner[1]}",
            "standoff of": f"a standoff of {owner[1]}"}.get(owner[0], owner[1])


def command_words(layout: Layout, command: str, rest: str) -> str:
    """A command about this layout as it is typed, with its overlays: a placement of an overlay is no layout by itself."""
    words = [command, shlex.quote(layout.files[0].path), rest, *(f"--with {shlex.quote(o.path)}" for o in layout.overlays)]
    return f"`chassis_describe {' '.join(words)}`"


def turn_as_written(placement: Placement, turn: float) -> str:
    """The key that gives a turn (radians): ``points: left`` where the placement speaks that way, else ``turn: 90``."""
    degrees = math.degrees(math.remainder(turn, 2 * math.pi))
    if placement.points is not None:
        seen = -degrees if placement.face == "under" and placement.support == "deck" else degrees
        for word, angle in (("forward", 0.0), ("left", 90.0), ("back", 180.0), ("right", -90.0)):
            if abs(math.remainder(seen - angle, 360.0)) < 1e-6:
                return f"points: {word}"
    return f"turn: {plain(180.0 if degrees == -180.0 else degrees, 4)}"



def as_written(assembly: Assembly, placed: PlacedPart, position: Position) -> str:
    """The keys that put the part there: ``at: [3, 2]``, with the turn where it changes; ``screws`` stay screws."""
    placement = placed.placement
    now = placed.at or (0.0, 0.0)
    turned = abs(math.remainder(position.turn - placed.turn, 2 * math.pi)) > 1e-9
    step = (position.at[0] - now[0], position.at[1] - now[1])
    if placement.screws is not None and not turned and abs(off_lattice(step[0])) + abs(off_lattice(step[1])) < 1e-6:
        holes = ", ".join(pair((i + round(step[0]), j + round(step[1]))) for i, j in placement.screws)
        return f"`screws: [{holes}]`"
    text = f"`at: {pair(position.at)}`"
    return f"{text} with `{turn_as_written(placement, position.turn)}`" if turned or placement.screws else text


def way(assembly: Assembly, placed: PlacedPart, position: Position, pitch: float) -> str:
    """How far that is, in holes (small steps in millimetres) and in the deck's or seat's own directions."""
    now = placed.at or (0.0, 0.0)
    words = ", ".join(steps((position.at[0] - now[0], position.at[1] - now[1]), on_deck=placed.deck is not None, fine=pitch))
    return f"{words}{whose_forward(assembly, placed.deck)}" if words else ""


def own_seat(assembly: Assembly, one: str, other: str) -> str:
    """Advice for two placements in one place on a seat, of which one mirrors the other: a mirror image takes over `on`."""
    for image, original in ((one, other), (other, one)):
        placed, twin = assembly.parts.get(image), assembly.parts.get(original)
        if placed is None or twin is None or placed.placement.mirror_of != original or placed.placement.support != "seat" \
                or (placed.placement.on, placed.placement.seat) != (twin.placement.on, twin.placement.seat):
            continue
        carrier = assembly.parts[twin.placement.on].placement
        mirror = next((n for n, p in assembly.parts.items() if p.placement.mirror_of == carrier.name), carrier.mirror_of)
        if mirror:
            several = len(assembly.parts[mirror].part.seats) > 1
            return (f"write `on: {mirror}{f'.{placed.placement.seat}' if several else ''}` for {image}; a mirror image takes "
                    "over `on` as it is")
    return ""


def the_same_place(assembly: Assembly, one: str, other: str) -> str:
    """Advice for two like motors in the very same place, of which one was copied from the other."""
    order = list(assembly.layout.placements)
    early, late = sorted((assembly.parts[one], assembly.parts[other]), key=lambda p: order.index(p.name))
    a, b = early.placement, late.placement
    if late.name not in {w.motor_placement for w in assembly.wheels} or early.part.name != late.part.name or early.deck is None \
            or early.at is None or (a.on, a.face, early.at, a.offset) != (b.on, b.face, late.at, b.offset) \
            or b.mirror_of is not None or a.mirror_of == late.name:
        return ""
    side = f"; for the other side of the robot, `{late.name}: {{mirror_of: {early.name}}}`" if abs(early.pose.t[1]) > 1e-9 else ""
    return f"{late.name} is where {early.name} is: give it an `at` of its own{side}"


def points_inwards(assembly: Assembly, placed: PlacedPart) -> bool:
    """Whether a motor's wheel reaches to the robot's other side because its shaft points towards the middle."""
    return placed.deck is not None and any(
        w.side in ("left", "right") and (w.axis[1] > 0) != (w.side == "left") and abs(w.axis[1]) > 0.9
        and w.axis[1] * placed.pose.t[1] < 0 for w in assembly.wheels if w.motor_placement == placed.name)


def fits_turned(assembly: Assembly, placed: PlacedPart, lattice: Lattice) -> bool:
    """Whether a motor and its wheel are in no part once it, and all others whose shafts point inwards, are turned round. A deck
    may be in the way yet: the motor has to move as well then."""
    if placed.at is None:
        return False
    inwards = {name for other in assembly.parts.values() if points_inwards(assembly, other)
               for name in bodies_of(assembly).carried_by(other.name)}
    shift = shift_of(assembly, placed, lattice, Position(placed.at, placed.turn + math.pi, 0.0))
    scene = bodies_of(assembly)
    return all(kind == "plate" or name in inwards for kind, name in scene.in_bodies(scene.carried_by(placed.name), shift))


def remedy(assembly: Assembly, placed: PlacedPart, lead: str = "move it to", *, stay: bool = False) -> str:
    """``move it to `at: [3, 2]` (1 hole forward): there it fits``, or what to do where nothing near fits."""
    lattice = lattice_of(assembly, placed)
    if lattice is None:
        return ""
    twin = mirrored(assembly, placed)
    motor = twin or placed
    if points_inwards(assembly, placed) and fits_turned(assembly, placed, lattice):
        return (f"its shaft points inwards: `{turn_as_written(motor.placement, motor.turn + math.pi)}` for {motor.name}"
                f"{f', which {placed.name} mirrors' if twin else ''}")
    if (across := _on_the_other_side(assembly, motor, lattice)):
        return across
    position = nearest_position(assembly, placed, stay=stay)
    if position is not None and twin is not None:  # the place to write it is the one that this one mirrors
        lead = f"move {twin.name}, which {placed.name} mirrors, to"
        placed = twin
        position = opposite(lattice, position)
    if position is not None:
        offset = placed.placement.offset
        without = " without `offset`" if offset[0] or offset[1] else ""
        return f"{lead} {as_written(assembly, placed, position)}{without}{_far(assembly, placed, position)}: there it fits"
    if search_given_up(assembly):
        return ""
    return _in_the_way(assembly, placed) or f"no place near {placed.name} has holes for it"


def _on_the_other_side(assembly: Assembly, motor: PlacedPart, lattice: Lattice) -> str:
    """Of a motor whose shaft points to its wheel's side, but which stands on the other: the place across, where it fits."""
    wheel = next((w for w in assembly.wheels if w.motor_placement == motor.name and w.side in ("left", "right")), None)
    if wheel is None or motor.deck is None or motor.at is None or motor.placement.screws is not None:
        return ""
    side = 1.0 if wheel.side == "left" else -1.0
    if motor.pose.t[1] * side > -1e-9 or wheel.axis[1] * side < 0.9:
        return ""
    there = opposite(lattice, Position(motor.at, motor.turn, 0.0))._replace(turn=motor.turn)
    if who_is_there(assembly, motor, there) is not None:
        return ""
    return f"{motor.name} drives a wheel on the {wheel.side} and is on the other side: `at: {pair(there.at)}` for it"


def _far(assembly: Assembly, placed: PlacedPart, position: Position) -> str:
    """`` (1 hole forward)``, and in words what else changes: the way it points, the side of the robot."""
    lattice = lattice_of(assembly, placed)
    assert lattice is not None
    words = [way(assembly, placed, position, lattice.pitch)]
    if abs(turned := math.degrees(math.remainder(position.turn - placed.turn, 2 * math.pi))) > 1e-6:
        words.append(f"turned by {plain(turned)}°".replace("-", ""))
    new = shift_of(assembly, placed, lattice, position).point(placed.pose.t)
    if any(a * b < -1e-9 for a, b in zip(new[:2], placed.pose.t)) and position.moved > 3:
        words.append("on the other side of the robot's middle")
    return f" ({said})" if (said := ", ".join(w for w in words if w)) else ""


def _in_the_way(assembly: Assembly, placed: PlacedPart) -> str:
    """The nearest place that a part's bolts allow, where another is in the way; nothing where no place has holes for it."""
    blocked = nearest_blocked(assembly, placed)
    if blocked is None:
        return ""
    there = "its bolts would fit" if placed.fixing == "bolts" else "the next one is"
    return (f"no place near {placed.name} is free; {there} at {as_written(assembly, placed, blocked.position)}"
            f"{_far(assembly, placed, blocked.position)}, where {owner_words(blocked.by)} is in the way")


def fits_there(hint: str) -> bool:
    """Whether what ``remedy`` said is a way out, and not only what is in the way."""
    return not hint.startswith("no place near")
