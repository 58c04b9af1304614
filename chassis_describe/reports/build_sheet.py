"""The build sheet in words: tools, steps in an order in which nothing is covered before its screw is in, and the whole list."""
from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.facts.bolting import holes_of
from chassis_describe.facts.build_order import BuildStep, build_order
from chassis_describe.facts.fasteners import HEADS, ISO_4032_NUT, NO_LOCKER, standard_of
from chassis_describe.facts.headings import whose_forward
from chassis_describe.facts.outlines import links_of
from chassis_describe.facts.screws import Screw, screws_by_user, screws_of
from chassis_describe.layout.model import Face, Stacked
from chassis_describe.layout.part_plate import cut_plate
from chassis_describe.reports.blocks import SheetBlock
from chassis_describe.words import count, listing, plain

TURN_OVER = ("Turn the plate over left to right; its front stays away from you: the robot's left is now on your right")
_CAUTIONS = (
    "A generated model is not a safety function: speed limits, protective fields and emergency stops are sized by people qualified "
    "for it, under the machinery rules that apply where the robot runs.",
    "First drive after any change: wheels off the ground, then at walking pace with an emergency stop in hand.",
    "Batteries, lasers and motors: follow their makers' instructions and local rules. Wear eye protection when you cut and drill.")
#: The first line of the list as CSV, by which the file is known to be ours.
CSV_HEAD = "group,number,what,detail,grams"
_NUTS = {"plain": "ISO 4032", "lock": "ISO 7040"}


class Item(NamedTuple):
    """One line of the list: how many, of what, of which size or material, and the mass together (g; None: not known)."""

    group: str
    number: int
    name: str
    detail: str
    grams: float | None


def figure_name(number: int) -> str:
    """Of a step's figure, without ending."""
    return f"step_{number:02d}"


def build_sheet(assembly: Assembly, *, instead: str = "") -> list[SheetBlock]:
    """The whole page. Figures are named by `figure_name` of their step; ``instead``: what is said where there are none."""
    out = [SheetBlock("title", f"{assembly.robot}: build sheet"), *(SheetBlock("caution", c) for c in _CAUTIONS),
           SheetBlock("heading", "Tools"), *(SheetBlock("step", tool) for tool in tools(assembly)), SheetBlock("heading", "Steps"),
           SheetBlock("text", "Holes are given as [i, j], then as row and column: rows count from the front edge, columns from the "
                              "left as you see the plate in that step.")]
    if instead:
        out.append(SheetBlock("text", instead))
    number = 0
    face: dict[str, Face] = {}
    for step in build_order(assembly):
        number += 1
        now = face.setdefault(step.deck, "top")
        lines: list[str] = []
        if step.face != now:
            back = "Turn the plate back over left to right; its front stays away from you: the robot's left is on your left again"
            lines.append(TURN_OVER if step.face == "under" else back)
            face[step.deck] = step.face
        title, more = _words(assembly, step)
        out.append(SheetBlock("step", f"{number}. {title}", (*lines, *more)))
        if not instead and step.kind != "cables":
            out.append(SheetBlock("figure", figure_name(number)))
    for title, more in _end(assembly):
        number += 1
        out.append(SheetBlock("step", f"{number}. {title}", tuple(more)))
    items = parts_list(assembly)
    out.append(SheetBlock("heading", "The whole list"))
    out.append(SheetBlock("table", rows=(("number", "what", "size, material", "mass"), *(
        (str(i.number), i.name, i.detail, f"{i.grams:.0f} g" if i.grams is not None else "") for i in items))))
    known = [i.grams for i in items if i.grams is not None]
    total = assembly.inertial.mass * 1e3 if assembly.inertial is not None else math.fsum(known)
    screws = screws_of(assembly)
    out.append(SheetBlock("text", f"{count(len(screws), 'screw')}, {count(sum(s.nut is not None for s in screws), 'nut')}, "
                                  f"{count(sum(s.washers for s in screws), 'washer')}. The model's mass is {total:.0f} g; the mass "
                                  "of screws, nuts and washers is not in it."))
    return out


# -------------------------------------------------------------------------------------------------------------------- tools
def tools(assembly: Assembly) -> list[str]:
    """Keys, sockets and drills, each with what it is for."""
    screws = screws_of(assembly)
    out: dict[str, str] = {}
    for screw in screws:
        head = HEADS[screw.kind].get(screw.thread)
        if head is not None:
            out.setdefault(head.tool, f"{screw.thread} screws, {standard_of(screw.kind, screw.thread)}")
    for screw in screws:
        if screw.nut is not None and screw.thread in ISO_4032_NUT:
            out.setdefault(f"socket or spanner {plain(ISO_4032_NUT[screw.thread] * 1e3)} mm", f"{screw.thread} nuts")
    for facet in assembly.decks.values():
        sizes = {d for _, _, d in facet.plate.holes} | {s.width for s in facet.plate.slots}
        for size in sorted(sizes):
            out.setdefault(f"drill {plain(size * 1e3)} mm", f"holes of {facet.deck.name}, where the plate is not cut by machine")
    for part in {p.part.name: p.part for p in assembly.parts.values() if p.part.plate is not None}.values():
        assert part.plate is not None
        cut = cut_plate(part, part.plate)
        for size in sorted({d for _, _, d in cut.plate.holes}):
            out.setdefault(f"drill {plain(size * 1e3)} mm", f"holes of {part.name}, where the plate is not cut by machine")
        if cut.sinks:
            out.setdefault("countersink 90°", f"holes of {part.name}, from below, until the heads are flush")
    out["kitchen scale, ruler"] = "to weigh the robot at the end, and to check the printed templates"
    return [f"{tool}: {use}" for tool, use in out.items()]


# -------------------------------------------------------------------------------------------------------------------- steps
def _words(assembly: Assembly, step: BuildStep) -> tuple[str, list[str]]:
    facet = assembly.decks[step.deck]
    by_user = screws_by_user(assembly)
    if step.kind == "cables":
        return f"route cables between {step.deck} and the deck that carries it, before they are closed", [
            "Leave slack where something moves or is taken off, and keep cables clear of wheels and of what lidars see"]
    if step.kind == "stand":
        return f"fix plate {step.name} to {facet.deck.placing.deck if facet.deck.placing else ''}", _note(facet.deck.note)
    if step.kind in ("standoffs", "close"):
        screws = [s for s in by_user.get(step.name, ()) if s.deck == step.deck]
        placing = assembly.decks[step.name].deck.placing
        assert isinstance(placing, Stacked)
        if step.kind == "standoffs":
            groups = [g for g in placing.standoffs if g.on == step.deck]
            what = ", ".join(f"{count(len(g.holes), 'standoff')} of {plain(g.length * 1e3)} mm ({g.material}, thread "
                             f"{plain(g.thread * 1e3)} mm at each end)" for g in groups)
            side = "top" if placing.relation == "above" else "under"
            lines = [f"on the {side} face of {step.deck}, for {step.name}: {_holes(assembly, step.deck, screws, step.face)}"]
            return what, [*lines, *_screw_lines(assembly, screws, step.face), *_covered(step)]
        word = "onto" if placing.relation == "above" else "under"
        title = f"put {step.name} {word} its standoffs"
        lines = [_holes(assembly, step.deck, screws, step.face), *_screw_lines(assembly, screws, step.face),
                 *_note(facet.deck.note)]
        return title, [line for line in (*lines, *_covered(step)) if line]
    placed = assembly.parts[step.name]
    return _part_words(assembly, placed, step, by_user.get(step.name, []))


def _part_words(assembly: Assembly, placed: PlacedPart, step: BuildStep, screws: Sequence[Screw]) -> tuple[str, list[str]]:
    placement = placed.placement
    if placement.support == "shaft":
        return f"{placed.name} ({placed.part.name}) on the shaft of {placement.on}", _note(placement.note)
    if placement.support == "seat":
        where = f"on {placement.on}" + (f", seat {placement.seat}" if len(assembly.parts[placement.on].part.seats) > 1 else "")
    else:
        where = f"on {placement.on}, {placed.face} face"
    lines = []
    if placed.fixing == "bolts" and screws:
        where_from = _holes(assembly, step.deck, screws, step.face) if placed.deck is not None else \
            f"holes of the seat: {listing([s.hole for s in screws], 12)}"
        lines.append(where_from)
    lines.append(_turn(assembly, placed))
    if placement.lift and placed.fixing == "bolts":
        lines.append(f"{count(len(screws), 'spacer')} of {plain(placement.lift * 1e3)} mm ({placement.spacer}) between")
    for name, value in placed.settings.items():
        lines.append(f"set {name} to {plain(math.degrees(value))}°")
    lines += _screw_lines(assembly, screws, step.face)
    if placed.fixing in ("strap", "adhesive"):
        lines.append("held by a strap" if placed.fixing == "strap" else "glued or taped: nothing holds it by screws")
    elif placed.fixing == "none":
        lines.append("nothing holds it in the model: fix it")
    return f"{placed.name} ({placed.part.name}) {where}", [*lines, *_note(placement.note), *_covered(step)]


def _turn(assembly: Assembly, placed: PlacedPart) -> str:
    """Where the part's own forward points, in words: the robot's, or those of a deck that is turned in the robot."""
    turn = math.degrees(placed.turn) % 360
    quarters = {0: "forward", 90: "left", 180: "back", 270: "right"}
    if placed.face == "under":
        quarters = {0: "forward", 90: "right", 180: "back", 270: "left"}
    near = round(turn) % 360
    if placed.deck is not None and near in quarters and abs(turn - round(turn)) < 1e-6:
        return f"its front points {quarters[near]}{whose_forward(assembly, placed.deck)}"
    if near == 0:
        return "not turned"
    return f"turned by {plain(turn)}° counter-clockwise, seen from outside"


@kept
def _counted(assembly: Assembly) -> Mapping[str, tuple[Mapping[int, int], Mapping[int, int]]]:
    """By deck, the number of each row from the front and of each column from the left, counted from 1."""
    def numbers(of: Iterable[int]) -> Mapping[int, int]:
        return {index: k for k, index in enumerate(sorted(set(of), reverse=True), 1)}

    return {name: (numbers(i for i, _ in holes.lattice_holes), numbers(j for _, j in holes.lattice_holes))
            for name, holes in holes_of(assembly).items()}


def _holes(assembly: Assembly, deck: str, screws: Sequence[Screw], face: Face) -> str:
    """Holes with row and column as now seen; turned over, the column from the robot's left as well."""
    rows, columns = _counted(assembly)[deck]
    words = []
    for screw in screws:
        hole = screw.hole
        if hole.startswith("["):
            i, j = (int(v) for v in hole.strip("[]").split(","))
            if i in rows and j in columns:
                turned = len(columns) + 1 - columns[j]
                hole += (f" (row {rows[i]}, column {columns[j]})" if face == "top" else
                         f" (row {rows[i]}, column {turned} as now seen, {columns[j]} from above)")
        words.append(hole)
    return f"holes {listing(words, len(words))}" if words else ""


def _screw_lines(assembly: Assembly, screws: Sequence[Screw], face: Face) -> Iterable[str]:
    """Equal screws together: what, from where, what is under head and nut."""
    groups: dict[tuple[object, ...], list[Screw]] = {}
    for screw in screws:
        groups.setdefault((screw.name, screw.head, screw.washers, screw.nut, screw.into, screw.why, screw.stack), []).append(screw)
    for group in groups.values():
        one = group[0]
        side = {"top": "from the top face", "under": "from the under face", "part": "from the part's side",
                "seat": "from behind the seat", "none": ""}[one.head]
        also = [count(one.washers * len(group), "washer") + f" {one.thread}, ISO 7089"] if one.washers else []
        also += [f"{count(len(group), 'nut')} {one.thread}, {_NUTS[one.nut]}"] if one.nut is not None else []
        if one.length is None:
            yield f"{count(len(group), 'screw')} {one.thread}: none fits, {one.why} (stack in mm: {one.stack})"
            continue
        shared = [u for u in one.users if u in assembly.parts]
        both = f"; one screw holds {listing(one.users)}" if len(one.users) > 1 and shared else ""
        yield f"{len(group)} x {one.name}, {side}" + (f", with {listing(also)}" if also else "") + both
        deck = assembly.decks[one.deck].deck.material if one.deck is not None else None
        if deck in NO_LOCKER:
            yield f"no thread locker here: it cracks {deck}"


def _note(note: str) -> list[str]:
    return [f"note: {note}"] if note else []


def _covered(step: BuildStep) -> list[str]:
    return [f"careful: {listing(step.covered)} is over some of these screws already, and no order avoids it: reach them from the "
            "side, or take it off again for them"] if step.covered else []


def _end(assembly: Assembly) -> Iterable[tuple[str, list[str]]]:
    batteries = [n for n, p in assembly.parts.items() if any(w in f"{n} {p.part.name} {p.part.about}".lower()
                                                             for w in ("battery pack", "cell holder", "accumulator"))]
    yield "check every screw, and that nothing touches a wheel", []
    yield f"connect {listing(batteries) if batteries else 'the battery'}: the battery is connected last", [
        "wheels off the ground; mind the polarity"]
    yield "weigh the robot and write `weighed` into the layout", ["then `check` says whether the model and the scale agree"]


# --------------------------------------------------------------------------------------------------------------------- list
def parts_list(assembly: Assembly) -> list[Item]:
    """Everything to have on the table: screws, nuts, washers, spacers, standoffs, plates, parts."""
    screws = screws_of(assembly)
    out: list[Item] = []
    names: dict[str, list[Screw]] = {}
    for screw in screws:
        names.setdefault(screw.name, []).append(screw)
    for name, group in sorted(names.items()):
        odd = "no length fits, see the step" if group[0].length is None else ""
        out.append(Item("screw", len(group), name, odd, None))
    nuts: dict[str, int] = {}
    washers: dict[str, int] = {}
    for screw in screws:
        if screw.nut is not None:
            nuts[f"{screw.thread}, {_NUTS[screw.nut]}"] = nuts.get(f"{screw.thread}, {_NUTS[screw.nut]}", 0) + 1
        if screw.washers:
            washers[screw.thread] = washers.get(screw.thread, 0) + screw.washers
    out += [Item("nut", n, f"nut {name}", "", None) for name, n in sorted(nuts.items())]
    out += [Item("washer", n, f"washer {name}, ISO 7089", "", None) for name, n in sorted(washers.items())]
    out += _spacers_and_standoffs(assembly)
    for name, facet in assembly.decks.items():
        x0, y0, x1, y1 = facet.plate.outline.bounds
        deck = facet.deck
        mass = deck.mass if deck.mass is not None else facet.plate.volume * deck.density if deck.density is not None else None
        out.append(Item("plate", 1, f"plate {name}", f"{plain((x1 - x0) * 1e3)} x {plain((y1 - y0) * 1e3)} x "
                        f"{plain(deck.thickness * 1e3)} mm{', ' + deck.material if deck.material else ''}",
                        mass * 1e3 if mass is not None else None))
    parts: dict[str, list[PlacedPart]] = {}
    for placed in assembly.parts.values():
        parts.setdefault(placed.part.name, []).append(placed)
    for name, placed_ones in parts.items():
        masses = [_mass(assembly, p) for p in placed_ones]
        out.append(Item("part", len(placed_ones), name, listing([p.name for p in placed_ones], len(placed_ones)),
                        math.fsum(m for m in masses if m is not None) * 1e3 if all(m is not None for m in masses) else None))
    return out


def _mass(assembly: Assembly, placed: PlacedPart) -> float | None:
    """Of a part without the spacers under it (kg)."""
    links = links_of(assembly)[placed.name]
    known = [link.inertial.mass for link in links if link.inertial is not None]
    spacers = math.fsum(b.mass for link in links for b in link.bodies if b.role == "spacer")
    return math.fsum(known) - spacers if known else None


def _spacers_and_standoffs(assembly: Assembly) -> list[Item]:
    spacers: dict[tuple[float, str], int] = {}
    for placed in assembly.parts.values():
        if placed.placement.lift and placed.fixing == "bolts":
            key = (placed.placement.lift, placed.placement.spacer)
            spacers[key] = spacers.get(key, 0) + len(screws_by_user(assembly).get(placed.name, ()))
    standoffs: dict[tuple[float, str], int] = {}
    for deck in assembly.layout.decks.values():
        for group in deck.placing.standoffs if isinstance(deck.placing, Stacked) else ():
            standoffs[group.length, group.material] = standoffs.get((group.length, group.material), 0) + len(group.holes)
    grams = _grams(assembly)
    return [*(Item("spacer", n, f"spacer {plain(length * 1e3)} mm", material, None)
              for (length, material), n in sorted(spacers.items())),
            *(Item("standoff", n, f"standoff {plain(length * 1e3)} mm", material, grams.get((length, material)))
              for (length, material), n in sorted(standoffs.items()))]


def _grams(assembly: Assembly) -> Mapping[tuple[float, str], float]:
    out: dict[tuple[float, str], float] = {}
    for deck in assembly.layout.decks.values():
        for group in deck.placing.standoffs if isinstance(deck.placing, Stacked) else ():
            one = group.mass if group.mass is not None else math.pi / 4 * group.diameter**2 * group.length * group.density
            key = (group.length, group.material)
            out[key] = out.get(key, 0.0) + one * 1e3 * len(group.holes)
    return out


def as_csv(assembly: Assembly) -> str:
    """The list for a spreadsheet, RFC 4180 with lines that end in a line feed."""
    import csv
    import io

    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    out.write(f"{CSV_HEAD}\n")
    for item in parts_list(assembly):
        writer.writerow((item.group, item.number, item.name, item.detail, "" if item.grams is None else f"{item.grams:.1f}"))
    return out.getvalue()
