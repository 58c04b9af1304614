"""Standoffs: a hole at both ends, and enough of them (DEVELOPERS.md, "Stacking")."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly, BoltUse
from chassis_describe.facts.holes import HoleBook, book_of, meets, name_of, why_absent
from chassis_describe.findings import Finding, finding
from chassis_describe.layout.model import Deck, Stacked
from chassis_describe.source import Mark
from chassis_describe.space.pose import cos_sin
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import count, mm, pair, significant

_REACH = 8


def standoffs_on_holes(assembly: Assembly) -> Iterable[Finding]:
    """``bolt-off-hole`` and ``hole-absent`` of standoffs, one finding of each kind for each deck end."""
    book = book_of(assembly)
    ends: dict[tuple[str, str], list[BoltUse]] = {}
    for use in book.uses:
        if use.kind == "standoff" and use.deck is not None:
            ends.setdefault((use.user, use.deck), []).append(use)
    for (user, deck), uses in ends.items():
        off = [u for u in uses if u.hole is None or not meets(u)]
        absent = [u for u in uses if u.hole is not None and meets(u) and not u.hole.exists]
        if off:
            yield _off(assembly, book, user, deck, uses, off)
        if absent:
            yield _absent(assembly, book, user, deck, absent)


def _off(assembly: Assembly, book: HoleBook, user: str, deck: str, uses: Sequence[BoltUse],
         off: Sequence[BoltUse]) -> Finding:
    worst = max(off, key=lambda u: u.distance)
    others = f", {count(len(off) - 1, 'more standoff')} of {len(uses)} likewise" if len(off) > 1 else ""
    if worst.hole is None:
        return finding("bolt-off-hole", f"{deck} has no holes for the standoffs of {user}",
                       hint=f"give {deck} a lattice, or drill {pair((worst.at[0] * 1e3, worst.at[1] * 1e3), 2)} mm",
                       where=[worst.mark], of=[user, deck])
    hint = _better(assembly, book, worst)
    if deck == user and not hint:
        dx, dy = worst.hole.centre[0] - worst.at[0], worst.hole.centre[1] - worst.at[1]
        alike = all(u.hole is not None and math.dist((u.hole.centre[0] - u.at[0], u.hole.centre[1] - u.at[1]), (dx, dy))
                    < 1e-5 for u in uses)
        if alike:
            hint = _line_up(assembly, user, (dx, dy))
    meets_it = "ends" if deck == user else "stands"
    return finding("bolt-off-hole", f"a standoff of {user} {meets_it} {mm(worst.distance)} from the nearest hole, "
                   f"{name_of(worst.hole)}{others}; its play is {mm(max(worst.clearance, 0.0))}", hint=hint,
                   where=[worst.mark, assembly.decks[deck].deck.mark], of=[user, deck], measured=worst.distance * 1e3,
                   allowed=max(worst.clearance, 0.0) * 1e3, unit="mm")


def _line_up(assembly: Assembly, user: str, off: tuple[float, float]) -> str:
    """What brings all holes of a deck over its standoffs, which miss them by ``off`` (m, its own axes)."""
    deck = assembly.decks[user].deck
    placing = deck.placing
    assert isinstance(placing, Stacked)
    other = assembly.decks[placing.deck].deck.lattice
    c, s = cos_sin(placing.turn)
    if other is not None:
        shift = (placing.shift[0] - (c * off[0] - s * off[1]) / other.pitch,
                 placing.shift[1] - (s * off[0] + c * off[1]) / other.pitch)
        if all(abs(v * 2 - round(v * 2)) < 1e-6 for v in shift):
            return f"`shift: {pair(shift)}` would bring its holes over all of them"
    now = deck.lattice.origin if deck.lattice is not None else (0.0, 0.0)
    new = pair(((now[0] - off[0]) * 1e3, (now[1] - off[1]) * 1e3), 2)
    return f"`lattice: {{origin: {new}}}` would bring its holes over all of them"


def _absent(assembly: Assembly, book: HoleBook, user: str, deck: str, absent: Sequence[BoltUse]) -> Finding:
    first = absent[0]
    assert first.hole is not None
    reason = why_absent(assembly.decks[deck], first.hole)
    others = f"; {count(len(absent) - 1, 'more standoff')} likewise" if len(absent) > 1 else ""
    end = "stands on" if deck != user else "meets"
    hints = [h for h in (reason.hint, _better(assembly, book, first)) if h]
    return finding("hole-absent", f"a standoff of {user} {end} {name_of(first.hole)}, which is not there: "
                   f"{reason.why}{others}", hint="; or ".join(hints),
                   where=[first.mark, assembly.decks[deck].deck.mark], of=list(dict.fromkeys((user, deck))))


def _better(assembly: Assembly, book: HoleBook, use: BoltUse) -> str:
    """The nearest hole, in the lattice that the standoffs are written in, that both decks have and nobody uses."""
    placing = assembly.decks[use.user].deck.placing
    assert isinstance(placing, Stacked)
    group, hole = _written(placing, use)
    on, top = assembly.decks[group], assembly.decks[use.user]
    lattice = on.deck.lattice
    if lattice is None:
        return ""
    into = top.pose.inverse() @ on.pose
    face = "top" if placing.relation == "above" else "under"
    middle = (round(hole[0]), round(hole[1]))
    near = sorted(((i, j) for i in range(middle[0] - _REACH, middle[0] + _REACH + 1)
                   for j in range(middle[1] - _REACH, middle[1] + _REACH + 1)),
                  key=lambda h: (round(math.dist(h, hole), 6), h))
    for candidate in near:
        if candidate not in book.decks[group].lattice_holes or book.users.get((group, candidate)):
            continue
        x, y, _ = into.point((*lattice_point(lattice, candidate), 0.0))
        ref, away = book.decks[use.user].nearest((x, y))
        if ref is None or not ref.exists or away > max(use.clearance, 0.0) + SAME_LENGTH \
                or book.taken((use.user, ref.hole), "under" if face == "top" else "top", ""):
            continue
        far = math.dist(candidate, hole)
        return (f"put it on {pair(candidate)} instead of {pair(hole)} ({significant(far, 3)} hole{'' if far == 1 else 's'} away): "
                "both decks have that hole and it is free")
    return ""


def _written(placing: Stacked, use: BoltUse) -> tuple[str, tuple[float, float]]:
    """The deck and hole that a standoff was written with, known by its mark."""
    for group in placing.standoffs:
        for mark, hole in zip(group.hole_marks, group.holes):
            if mark == use.mark:
                return group.on, hole
    return placing.deck, (0.0, 0.0)


def decks_held(assembly: Assembly) -> Iterable[Finding]:
    """``not-fixed`` and ``turns-freely`` of stacked decks."""
    for name, facet in assembly.decks.items():
        placing = facet.deck.placing
        if not isinstance(placing, Stacked):
            continue
        standing = sum(len(g.holes) for g in placing.standoffs)
        if standing == 0:
            yield finding("not-fixed", f"nothing holds deck {name}: it has no standoffs", where=[_mark(facet.deck)],
                          of=[name], hint="give it `standoffs` with `length` and `holes`")
        elif standing == 1:
            yield finding("turns-freely", f"deck {name} stands on one standoff and can turn about it",
                          where=[_mark(facet.deck)], of=[name], hint="give it two more standoffs, not in one line")


def _mark(deck: Deck) -> Mark:
    return deck.placing.mark if deck.placing is not None else deck.mark
