"""What carries what: the supports have to be a tree with one base deck, and its frames need names of their own."""
from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from chassis_describe.layout.model import Deck, Placement
from chassis_describe.layout.names import OTHERS_FRAMES, RESERVED, output_names
from chassis_describe.layout.reading import Reading
from chassis_describe.layout.record import Taken
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


def no_loops(supports: Mapping[str, tuple[str, Mark]], r: Reading) -> None:
    """Report every loop in ``name → (what carries it, where that is said)``, each once and completely."""
    state: dict[str, int] = {}
    for start in supports:
        walk: list[str] = []
        name = start
        while name in supports and name not in state:
            state[name] = 1
            walk.append(name)
            name = supports[name][0]
        if state.get(name) == 1 and name in walk:
            loop = walk[walk.index(name):]
            first = min(loop, key=lambda n: (supports[n][1].file, supports[n][1].line, supports[n][1].column))
            k = loop.index(first)
            loop = [*loop[k:], *loop[:k]]
            r.fault("tree", f"a loop of supports: {' → '.join([*loop, loop[0]])}", supports[loop[0]][1],
                    hint="each stands on the next; one of them has to stand on something else",
                    also=[supports[n][1] for n in loop[1:]])
        for name in walk:
            state[name] = 2


def supports_of(decks: Mapping[str, Taken | None], sources: Mapping[str, Any]) -> dict[str, tuple[str, Mark]]:
    """What carries each deck and placement, as far as it is said. ``sources``: key → (mapping, mirrored) by placement."""
    out: dict[str, tuple[str, Mark]] = {}
    for name, taken in decks.items():
        key = next((k for k in _PLACING if taken is not None and k in taken.values), None)
        if taken is not None and key is not None and taken.values[key] != name:
            out[name] = (taken.values[key], taken.mark(key))
    for name, source in sources.items():
        entry = (source or {}).get("on")
        if entry is not None and entry[0].get("on") is not None and name not in out:
            carrier = entry[0].get("on").partition(".")[0]
            if carrier != name:
                out[name] = (carrier, entry[0].mark("on"))
    return out


def frames_apart(decks: Mapping[str, Deck], placements: Mapping[str, Placement], r: Reading) -> None:
    """No two frames or joints of the output have one name; links and joints share a name space for some consumers."""
    owner: dict[str, tuple[str, Mark | None]] = {
        n: ("the robot itself", None) for n in ("base_link", "base_joint", "base_footprint", "base_footprint_joint")}
    for thing in (*decks.values(), *placements.values()):
        if thing.name in RESERVED:
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
