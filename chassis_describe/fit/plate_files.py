"""Decks that are drawn in files: what was understood of each is said back, since nobody reads a DXF file with his eyes."""
from __future__ import annotations

from collections.abc import Iterable, Sequence

from chassis_describe.assembly.lattice import lattice_coordinates
from chassis_describe.assembly.model import Assembly, DeckFacet
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.layout.model import Deck, PlateFile
from chassis_describe.space.plate.circles import whole_outside
from chassis_describe.space.plate.shapes import Disc, Slot
from chassis_describe.tolerances import SAME_DIAMETER
from chassis_describe.words import count, listing, mm, pair, plain


def plate_files_read(assembly: Assembly) -> Iterable[Finding]:
    """``plate-read`` and ``plate-lattice`` for every deck that is drawn in a file."""
    for name, facet in assembly.decks.items():
        if facet.deck.file is not None:
            yield from _of_deck(name, facet, facet.deck.file)


def _of_deck(name: str, facet: DeckFacet, file: PlateFile) -> Iterable[Finding]:
    deck = facet.deck
    said = f"{file.name} is {_size(file)}; {_what(deck, file)}; {_zero(deck, file)}{_rest(file)}"
    yield finding("plate-read", said, where=[file.mark], of=[name])
    if deck.lattice is None:
        return
    if file.doubt is not None:
        message, hint = file.doubt
        yield finding("plate-lattice", f"{file.name}: {message}", hint=hint, where=[file.mark], of=[name],
                      severity=Severity.WARNING)
    if deck.holes is None:
        laid = facet.plate.holes[sum(1 for d in deck.drilled if d.hole is not None):]
        met = _met(deck, laid)
        into = f"; {listing(met)} would run into holes of the file" if met else ""
        yield finding("plate-lattice", f"{file.name} has no holes on a lattice of {mm(deck.lattice.pitch)}: the robot's lattice is "
                      f"laid on the plate, from the middle of its box, with {count(len(laid), 'hole')} that the file does not "
                      f"have{into}", hint="drill them, `skip` some, or write `lattice: none` for a plate without",
                      where=[file.mark], of=[name])
        return
    if abs(file.hole - deck.lattice.hole) > SAME_DIAMETER:
        there = deck.lattice.hole
        yield finding("plate-lattice", f"the lattice holes in {file.name} are {mm(there)} wide, the layout says {mm(file.hole)}: "
                      "the file counts", hint=f"write `lattice: {{hole: {plain(there * 1e3, 3)}}}` in this deck, or draw them anew",
                      where=[file.mark], of=[name], measured=there * 1e3, allowed=file.hole * 1e3, unit="mm")


def _met(deck: Deck, laid: Sequence[tuple[float, float, float]]) -> list[str]:
    """The holes of a lattice that was laid on a plate which drilled ones cut, by name."""
    assert deck.lattice is not None
    circles = [(x, y, d / 2) for x, y, d in laid]
    clear = [True] * len(laid)
    for drilled in deck.drilled:
        shape = Disc(radius=drilled.hole / 2, centre=drilled.at) if drilled.hole is not None else Slot(
            length=(drilled.slot or (0.0, 0.0))[0], width=(drilled.slot or (0.0, 0.0))[1], centre=drilled.at, turn=drilled.turn)
        clear = [a and b for a, b in zip(clear, whole_outside(shape, circles))]
    return [pair(lattice_coordinates(deck.lattice, (x, y))) for (x, y, _), free in zip(laid, clear) if not free]


def _size(file: PlateFile) -> str:
    w, h = file.size
    said = f"the file counts in {file.unit}" if file.unit_said else "the file names no unit, so its numbers are mm"
    return f"{plain(w * 1e3)} mm long and {plain(h * 1e3)} mm wide ({said})"


def _what(deck: Deck, file: PlateFile) -> str:
    parts = [f"{count(len(deck.holes), 'lattice hole')} of {mm(deck.lattice.hole)}"] if deck.holes and deck.lattice else []
    others = ((file.drilled, "other hole"), (file.slots, "slot"), (file.cutouts, "cutout"))
    return ", ".join([*parts, *(count(n, word) for n, word in others if n)]) or "no holes"


def _zero(deck: Deck, file: PlateFile) -> str:
    what = "hole [0, 0]" if deck.holes else "the deck's (0, 0), the middle of its box,"
    return f"{what} is at ({', '.join(plain(v, 3) for v in file.zero)}) of the file"


def _rest(file: PlateFile) -> str:
    mended = f"; {count(len(file.mended), 'fault')} of the file's form mended ({file.mended[0]})" if file.mended else ""
    aside = ", ".join(f"{n} × {what}" for what, n in file.aside)
    return f"{mended}{f'; left aside: {aside}' if aside else ''}"
