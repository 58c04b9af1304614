"""Bolts of parts against the holes that are really there (DEVELOPERS.md, "Play")."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from chassis_describe.assembly.model import Assembly, BoltUse, PlacedPart, bounds
from chassis_describe.assembly.screws import nominal_diameter
from chassis_describe.facts.fasteners import ISO_273
from chassis_describe.facts.free_places import (
    lattice_of,
    nearest_blocked,
    nearest_position,
    place_near,
    search_given_up,
    straightened,
    who_is_there,
)
from chassis_describe.facts.holes import HoleBook, book_of, meets, name_of, why_absent
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.fit.remedy_words import MEND_FIRST, command_words, own_seat, remedy, the_same_place, turn_as_written
from chassis_describe.layout.model import Lattice
from chassis_describe.source import Mark
from chassis_describe.tolerances import MOST_HINTED, MOST_SHARED, SAME_LENGTH
from chassis_describe.words import count, listing, mm, pair


def place_mark(placed: PlacedPart) -> Mark:
    """Where to edit first when a part is in the wrong place."""
    marks = placed.placement.marks
    return placed.placement.screws_mark or marks.get("at") or marks.get("screws") or placed.mark


def bolts_on_holes(assembly: Assembly) -> Iterable[Finding]:
    """``bolt-off-hole`` and ``hole-absent`` of every bolted part, one finding of each kind a part."""
    book = book_of(assembly)
    for name, uses in book.by_user.items():
        placed = assembly.parts[name]
        off = [u for u in uses if u.hole is None or not meets(u)]
        absent = [u for u in uses if u.hole is not None and meets(u) and not u.hole.exists]
        if off:
            yield _off_hole(assembly, book, placed, uses, off)
        if absent:
            yield _absent(assembly, placed, absent)


def _off_hole(assembly: Assembly, book: HoleBook, placed: PlacedPart, uses: Sequence[BoltUse],
              off: Sequence[BoltUse]) -> Finding:
    worst = max(off, key=lambda u: u.distance)
    on = placed.deck or f"{placed.placement.on}.{placed.placement.seat}"
    if worst.hole is None:
        return finding("bolt-off-hole", f"{placed.name} is bolted to {on}, which has no holes",
                       hint="drill some (`drilled`, `lattice`), or say how it is held: `fixing: adhesive` or `strap`",
                       where=[place_mark(placed)], of=[placed.name, placed.deck or placed.placement.on])
    hint = _without_offset(assembly, book, placed, uses) or "; or ".join(
        h for h in (_meant_millimetres(assembly, placed), _hint(assembly, placed, uses)) if h)
    return finding(
        "bolt-off-hole", f"{_which(placed, uses, off)} {mm(worst.distance)} from the nearest hole, "
        f"{name_of(worst.hole)}; the play is {mm(max(worst.clearance, 0.0))}", hint=hint,
        where=[place_mark(placed), placed.part.mark],
        of=[placed.name, placed.deck or placed.placement.on], measured=worst.distance * 1e3,
        allowed=max(worst.clearance, 0.0) * 1e3, unit="mm")


def _which(placed: PlacedPart, uses: Sequence[BoltUse], off: Sequence[BoltUse]) -> str:
    """``bolt 2 of lidar is``, ``all 4 bolts of lidar are up to``."""
    if len(off) == 1:
        return f"bolt {off[0].index + 1} of {placed.name} is" if len(uses) > 1 else f"the bolt of {placed.name} is"
    if len(off) == len(uses):
        some = "both bolts" if len(uses) == 2 else f"all {len(uses)} bolts"
    else:
        some = f"bolts {listing(str(u.index + 1) for u in off)}"
    return f"{some} of {placed.name} are up to"


def _without_offset(assembly: Assembly, book: HoleBook, placed: PlacedPart, uses: Sequence[BoltUse]) -> str:
    ox, oy, _ = placed.placement.offset
    if placed.deck is None or not (ox or oy):
        return ""
    holes = book.decks[placed.deck]
    for use in uses:
        ref, away = holes.nearest((use.at[0] - ox, use.at[1] - oy))
        if ref is None or not ref.exists or away > max(use.clearance, 0.0) + SAME_LENGTH:
            return ""
    return f"without its `offset` of {pair((ox * 1e3, oy * 1e3))} mm every bolt meets a hole"


def _hint(assembly: Assembly, placed: PlacedPart, uses: Sequence[BoltUse]) -> str:
    if nearest_position(assembly, placed) is not None or nearest_blocked(assembly, placed) is not None:
        return remedy(assembly, placed)
    if search_given_up(assembly):
        return ""
    straight = straightened(assembly, placed)
    turned = "" if straight is None else (
        f"with `{turn_as_written(placed.placement, straight.turn)}` every bolt meets a hole; turned as it is, ")
    spots = listing((pair((u.at[0] * 1e3, u.at[1] * 1e3), 1) for u in uses), most=8)
    lattice = lattice_of(assembly, placed)
    if placed.deck is None:
        return f"seat {placed.placement.seat} needs holes at {spots} mm for it"
    why = f"{turned}no place within reach on the {mm(lattice.pitch)} lattice fits it; " if lattice is not None else ""
    template = command_words(assembly.layout, "draw", f"--deck {placed.deck} --template -o {placed.deck}.pdf")
    return (f"{why}drill {placed.deck} at {spots} (mm, deck coordinates, under `drilled`; template: {template})"
            f"{_or_adapter(assembly, placed, lattice)}, or say `fixing: adhesive`")


def _or_adapter(assembly: Assembly, placed: PlacedPart, lattice: Lattice | None) -> str:
    """The command that makes a plate for a part, where it can."""
    if lattice is None or len(placed.part.bolts) < 2 or placed.placement.mirror_of is not None:
        return ""
    return f", or put a plate between ({command_words(assembly.layout, 'adapter', placed.name)})"


def _meant_millimetres(assembly: Assembly, placed: PlacedPart) -> str:
    """The hint for ``at: [60, 0]`` that was meant as millimetres: as millimetres it would lie on the plate. The place that is
    named is one that the bolts allow."""
    lattice = lattice_of(assembly, placed)
    if lattice is None or placed.deck is None or placed.at is None or placed.placement.screws is not None:
        return ""
    x, y = (v * 1e-3 for v in placed.at)
    if float(assembly.decks[placed.deck].plate.clearance([(x, y)])[0]) <= 0.0:
        return ""
    holes = ((x - lattice.origin[0]) / lattice.pitch, (y - lattice.origin[1]) / lattice.pitch)
    if not any(abs(v) >= 1.0 for v in holes):  # so few millimetres are nobody's place: it is a slip in holes
        return ""
    place = place_near(assembly, placed, holes)
    if place is None or who_is_there(assembly, placed, place) is not None:
        return ""
    nearest = "" if place.moved < 1e-6 else ", the nearest place to that"
    return f"`at` counts holes: where {pair(placed.at)} is meant in mm, write `at: {pair(place.at)}`{nearest}"


def _absent(assembly: Assembly, placed: PlacedPart, absent: Sequence[BoltUse]) -> Finding:
    first = absent[0]
    assert first.hole is not None
    facet = assembly.decks[first.hole.on]
    reason = why_absent(facet, first.hole)
    others = (f"; {count(len(absent) - 1, 'more bolt')} of it likewise" if len(absent) > 1 else "")
    hints = [h for h in (reason.hint, _meant_millimetres(assembly, placed)) if h]
    fix = remedy(assembly, placed)
    if fix and not (hints and fix.endswith("has holes for it")):
        hints.append(fix)
    where = [place_mark(placed), facet.deck.mark]
    if first.hole.hole in facet.deck.skip and len(facet.deck.skip_marks) == len(facet.deck.skip):
        where[1] = facet.deck.skip_marks[facet.deck.skip.index(first.hole.hole)]
    return finding("hole-absent", f"bolt {first.index + 1} of {placed.name} would go through {name_of(first.hole)}, "
                   f"which is not there: {reason.why}{others}", hint="; or ".join(hints), where=where,
                   of=[placed.name, first.hole.on])


_Sharing = tuple[str, str, str, str, str, bool]  # kind and name of two users, where, whether from one face


def holes_shared(assembly: Assembly) -> Iterable[Finding]:
    """``hole-taken``: two users of one hole, one finding for each two users; standoffs are users like parts."""
    book = book_of(assembly)
    found: dict[_Sharing, list[BoltUse]] = {}
    first_of: dict[_Sharing, BoltUse] = {}
    looked_at = 0
    for users in book.users.values():
        for n, late in enumerate(users):
            looked_at += n
            if looked_at > MOST_SHARED:
                break
            for early in users[:n]:
                if early.user == late.user and early.kind == late.kind == "part":
                    continue
                if early.kind == late.kind and early.mark == late.mark and early.user == late.user:
                    continue
                assert late.hole is not None
                same = early.deck is None or early.face == late.face
                key: _Sharing = (early.kind, early.user, late.kind, late.user, late.hole.on, same)
                found.setdefault(key, []).append(late)
                first_of.setdefault(key, early)
    told = set(sorted(found, key=lambda key: found[key][0].mark)[:MOST_HINTED])
    for key, uses in found.items():
        yield _shared(assembly, first_of[key], uses, same_face=key[-1], hinted=key in told)
    if looked_at > MOST_SHARED and found:
        fullest = max(book.users.values(), key=len)
        hole = fullest[0].hole
        assert hole is not None
        yield finding("hole-taken", f"{count(len(fullest), 'screw')} are meant for {name_of(hole)}: too many to speak of "
                      "every two of them, here and in other holes", hint=MEND_FIRST, where=[fullest[0].mark],
                      of=[hole.on])


def _shared(assembly: Assembly, early: BoltUse, uses: Sequence[BoltUse], *, same_face: bool, hinted: bool) -> Finding:
    """``hinted``: what to do is looked for; else it is left to the findings before it."""
    late = uses[0]
    assert late.hole is not None
    holes = name_of(late.hole) + (f" and {count(len(uses) - 1, 'more hole')}" if len(uses) > 1 else "")
    names = [_user(early), _user(late)]
    of = list(dict.fromkeys((late.user, early.user, late.hole.on)))
    where = [late.mark, early.mark]
    if not same_face:
        return finding("hole-taken", f"{names[0]} and {names[1]} share {holes} from opposite faces: one screw has to "
                       "serve both", severity=Severity.NOTE, where=where, of=of,
                       hint="choose its length for both, or move one of them")
    hint = own_seat(assembly, late.user, early.user) if hinted else MEND_FIRST
    if not hint and early.kind == late.kind == "part":
        hint = the_same_place(assembly, late.user, early.user)
    mover = next((assembly.parts[u.user] for u in (late, early) if u.kind == "part"), None)
    if mover is not None and not hint:
        hint = remedy(assembly, mover, f"move {mover.name} to")
    side = f" from the {'top' if late.face == 'top' else 'under side'}" if late.deck is not None else ""
    return finding("hole-taken", f"{names[0]} and {names[1]} both use {holes}{side}", hint=hint, where=where, of=of)


def _user(use: BoltUse) -> str:
    return f"a standoff of {use.user}" if use.kind == "standoff" else use.user


def screws_pass(assembly: Assembly) -> Iterable[Finding]:
    """``screw-too-big``: a screw that does not pass a hole (error), or a hole wider than ISO 273 coarse (note)."""
    book = book_of(assembly)
    tight: dict[tuple[str, str], list[tuple[BoltUse, float, str]]] = {}
    loose: dict[tuple[str, str, float], list[BoltUse]] = {}
    for use in book.uses:
        d = nominal_diameter(use.screw)
        placed = assembly.parts.get(use.user) if use.kind == "part" else None
        if use.hole is not None and use.hole.exists and use.hole.diameter > 0:
            if d > use.hole.diameter + SAME_LENGTH and not _threaded(assembly, use):
                tight.setdefault((use.kind, use.user), []).append((use, use.hole.diameter, name_of(use.hole)))
            elif use.screw in ISO_273 and use.hole.diameter > ISO_273[use.screw].coarse + SAME_LENGTH:
                loose.setdefault((use.hole.on, use.screw, use.hole.diameter), []).append(use)
        slot = placed.part.bolt_slots.get(use.index) if placed is not None else None
        own = slot.width if slot is not None else placed.part.bolt_hole if placed is not None else None
        if placed is not None and placed.part.tapped is None and own is not None and d > own + SAME_LENGTH:
            name = "its own slots" if slot is not None else "its own bolt holes"
            tight.setdefault((use.kind, use.user), []).append((use, own, name))
    for (kind, user), uses in tight.items():
        use, hole, name = uses[0]
        d = nominal_diameter(use.screw)
        fitting = [s for s, c in ISO_273.items() if c.fine <= hole + SAME_LENGTH]
        hint = (f"holes of {mm(hole)} take {fitting[-1]} at most" if fitting else
                f"drill at least {mm(ISO_273[use.screw].fine)} for {use.screw}" if use.screw in ISO_273 else "")
        if use.screw in ISO_273 and fitting:
            hint += f"; {use.screw} needs {mm(ISO_273[use.screw].fine)} to {mm(ISO_273[use.screw].coarse)} (ISO 273)"
        who = user if kind == "part" else f"the standoffs of {user}"
        place = f"{name}, {mm(hole)} wide" if name.startswith("its own") else f"{name}, which is {mm(hole)} wide"
        yield finding("screw-too-big", f"the {use.screw} screws of {who} do not pass {place}", hint=hint,
                      where=[use.mark], of=[user], measured=d * 1e3, allowed=hole * 1e3, unit="mm")
    for (on, screw, hole), wide in loose.items():
        coarse = ISO_273[screw].coarse
        users = list(dict.fromkeys(u.user for u in wide))
        yield finding("screw-too-big", f"holes of {mm(hole)} in {on} are wider than ISO 273 coarse for {screw}, "
                      f"{mm(coarse)}: {listing(users)} can shift by {mm(max(u.clearance for u in wide))}",
                      severity=Severity.NOTE, hint="use washers, or a larger screw", where=[wide[0].mark],
                      of=[*users, on], measured=hole * 1e3, allowed=coarse * 1e3, unit="mm")


def _threaded(assembly: Assembly, use: BoltUse) -> bool:
    """Whether the hole under the bolt is a thread in a seat, which the screw cuts into."""
    if use.deck is not None or use.hole is None or not isinstance(use.hole.hole, int):
        return False
    placement = assembly.parts[use.user].placement
    seat = assembly.parts[placement.on].part.seats[placement.seat or ""]
    return seat.bolts[use.hole.hole].tapped is not None


def _beside_the_deck(assembly: Assembly, placed: PlacedPart) -> float:
    """How far the box around a part lies from the box around the deck's outline, seen from above the deck (m)."""
    bodies = [body for body in assembly.as_one(placed.name).bodies if body.role != "spacer"]
    if placed.deck is None or not bodies:
        return 0.0
    turned = [body._replace(pose=placed.part_in_support @ placed.part_in_link.inverse() @ body.pose) for body in bodies]
    low, high = bounds(turned)
    left, bottom, right, top = assembly.decks[placed.deck].plate.outline.bounds
    return math.hypot(max(left - high[0], low[0] - right, 0.0), max(bottom - high[1], low[1] - top, 0.0))


def held_at_all(assembly: Assembly) -> Iterable[Finding]:
    """``not-fixed`` and ``turns-freely`` of parts."""
    book = book_of(assembly)
    for name, placed in assembly.parts.items():
        if placed.fixing == "none":
            yield finding("not-fixed", f"nothing holds {name}: {placed.part.name} has no bolts",
                          hint="say how it is held: `fixing: adhesive` or `fixing: strap`, or give the part `bolts`",
                          where=[placed.mark, placed.part.mark], of=[name])
        elif placed.fixing in ("adhesive", "strap") and (away := _beside_the_deck(assembly, placed)) > SAME_LENGTH:
            yield finding("not-fixed", f"nothing holds {name}: it lies {mm(away)} beside deck {placed.deck}",
                          hint="correct `at` or `offset`: a bare `offset` is in mm, `at` counts holes",
                          where=[place_mark(placed), placed.mark], of=[name])
        elif placed.fixing == "bolts" and len(book.by_user.get(name, ())) == 1:
            use = book.by_user[name][0]
            where = f"hole {pair(use.hole.hole)}" if use.hole and isinstance(use.hole.hole, tuple) else "its one hole"
            yield finding("turns-freely", f"{name} is held by one bolt and can turn about {where}",
                          hint="give it a second bolt or adhesive (`fixing: adhesive`), or accept that it turns",
                          where=[placed.mark, placed.part.mark], of=[name])
