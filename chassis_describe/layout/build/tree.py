"""What carries what: the supports have to be a tree with one base deck, and its frames need names of their own."""
from __future__ import annotations

from collections.abc import Mapping

from chassis_describe.layout.build.mirror import PlacementKeys
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.model import Deck, Placement
from chassis_describe.layout.names import OTHERS_FRAMES, RESERVED, output_names
from chassis_describe.source import Mark

_PLACING = ("above", "below", "fixed_to")


def one_base_deck(decks: Mapping[str, Taken | None], at: Taken, r: Reading) -> None:
    """Exactly one deck has no placing key."""
    base = [name for name, t in decks.items() if t is not None and not any(t.has(k) for k in _PLACING)]
    if any(t is None for t in decks.values()):
        return  # what a deck without keys would have been is anybody's guess
    if not base and decks:
        r.fault("tree", "every deck is placed on another one; none is the base", at.keys["decks"], at.within("decks"),
                hint="leave out `above`, `below` or `fixed_to` on the deck that carries the others")
    for name in base[1:]:
        taken, first = decks[name], decks[base[0]]
        assert taken is not None and first is not None
        r.fault("tree", f"`{name}` and `{base[0]}` both stand alone; a robot has one base deck", taken.node, taken.path,
                hint=f"say how `{name}` is placed: `above`, `below` or `fixed_to` another deck", also=[first.mark()])


#: So many things may stand on one another (our choice): a tower of a hundred is none that drives.
MOST_CARRIED = 100

#: What carries a deck or placement, and where that is said: mapping and key.
SupportOf = dict[str, tuple[str, PlacementKeys, str]]


def no_loops(supports: SupportOf, r: Reading) -> None:
    """Report every loop of supports, each once and completely."""
    done: set[str] = set()
    for start in supports:
        walk: dict[str, None] = {}
        name = start
        while name in supports and name not in done and name not in walk:
            walk[name] = None
            name = supports[name][0]
        if name in walk:
            order = list(walk)
            loop = order[order.index(name):]
            marks = [supports[n][1].mark(supports[n][2]) for n in loop]
            k = marks.index(min(marks))
            loop, marks = [*loop[k:], *loop[:k]], [*marks[k:], *marks[:k]]
            r.fault("tree", f"a loop of supports: {' → '.join([*loop, loop[0]])}", marks[0],
                    hint="each stands on the next; one of them has to stand on something else", also=marks[1:])
        done.update(walk)
    _no_towers(supports, r)


def _no_towers(supports: SupportOf, r: Reading) -> None:
    """One fault where things stand on one another higher than any robot: what adds along a chain is asked for each of it."""
    heights: dict[str, int] = {}
    for start in supports:
        walk: list[str] = []
        name = start
        while name in supports and name not in heights:
            heights[name] = 0
            walk.append(name)
            name = supports[name][0]
        if name in walk:
            continue  # a loop, which is said elsewhere
        for height, on in enumerate(reversed(walk), heights.get(name, 0) + 1):
            heights[on] = height
            if height > MOST_CARRIED:
                r.fault("tree", f"`{on}` would be number {height} of things that stand on one another; a robot has "
                        f"{MOST_CARRIED} at most", supports[on][1].mark(supports[on][2]),
                        hint="let it stand on something lower")
                return


def supports_of(decks: Mapping[str, Taken | None], placements: Mapping[str, PlacementKeys | None]) -> SupportOf:
    """What carries each deck and placement, as far as it is said."""
    out: SupportOf = {}
    for name, taken in decks.items():
        key = next((k for k in _PLACING if taken is not None and k in taken.values), None)
        if taken is not None and key is not None and taken.values[key] != name:
            out[name] = (taken.values[key], taken, key)
    for name, written in placements.items():
        on: str | None = written.values.get("on") if written is not None else None
        if on is not None and written is not None and name not in out:
            carrier = on.partition(".")[0]
            if carrier != name:
                out[name] = (carrier, written, "on")
    return out


def frames_apart(decks: Mapping[str, Deck], placements: Mapping[str, Placement], r: Reading) -> None:
    """No two frames or joints of the output have one name; links and joints share a name space for some consumers."""
    owner: dict[str, tuple[str, Mark | None]] = dict.fromkeys(
        ("base_link", "base_joint", "base_footprint", "base_footprint_joint"), ("the robot itself", None))
    things: list[Deck | Placement] = [*decks.values(), *placements.values()]
    for thing in things:
        if thing.name in RESERVED or (isinstance(thing, Placement) and thing.name in decks):
            continue  # reported with its name
        told: set[str] = set()
        for name in output_names(thing):
            where = thing.mark
            if isinstance(thing, Placement) and name in thing.frames.values():
                where = thing.marks.get("frame") or thing.marks.get("frames") or thing.mark
                if name in OTHERS_FRAMES:
                    r.fault("bad-name", f"`{name}` is a frame that the robot's sensors can't carry", where,
                            hint="it belongs to localisation or to the simulator; call it `laser_frame`, for instance")
                    continue
            known = owner.setdefault(name, (f"`{thing.name}`", where))
            if known[1] is not where and known[0] not in told:
                told.add(known[0])
                r.fault("frame-clash", f"`{thing.name}` and {known[0]} would both make a frame or joint "
                        f"`{name}`" if known[0] != f"`{thing.name}`" else f"two frames of `{thing.name}` would both be "
                        f"called `{name}`", where, hint="give one of them another name", also=[known[1]])
