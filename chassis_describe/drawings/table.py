"""Every kind of drawing by the ending of its file."""
from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.paper import Page
from chassis_describe.drawings.plate_view import PlateView, deck_plate
from chassis_describe.drawings.views import deck_views
from chassis_describe.errors import UsageError
from chassis_describe.facts.known import known_deck
from chassis_describe.findings import Finding
from chassis_describe.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is asked for. ``findings``: of the check, whose errors are marked on the sheet; ``most``: outlines and holes on all
    pages of a deck together (None: as many as its names need)."""

    findings: Sequence[Finding] = ()
    deck: str | None = None
    template: bool = False
    under: bool = False
    paper: str = "a4"
    most: int | None = None


def _pages(assembly: Assembly, wish: Wish, *, tiled: bool) -> tuple[Page, ...]:
    if not wish.template:
        from chassis_describe.drawings.sheet import sheet

        return sheet(assembly, wish.findings, paper=wish.paper, deck=wish.deck, under=wish.under, most=wish.most)
    from chassis_describe.drawings.template import plate_page, template_pages
    from chassis_describe.drawings.title_block import drawing_hash

    views = [deck_plate(v) for n, v in deck_views(assembly).items() if wish.deck in (None, n)]
    if not tiled:
        return tuple(plate_page(v, wish.under) for v in views)
    return tuple(p for v in views for p in template_pages(v, assembly.robot, drawing_hash(assembly), wish.paper, wish.under))


def _svg(assembly: Assembly, wish: Wish) -> bytes:
    from chassis_describe.drawings.svg import svg

    return svg(_pages(assembly, wish, tiled=False), assembly.robot)


def _pdf(assembly: Assembly, wish: Wish) -> bytes:
    from chassis_describe.drawings.pdf import pdf

    return pdf(_pages(assembly, wish, tiled=True), assembly.robot)


def _png(assembly: Assembly, wish: Wish) -> bytes:
    from chassis_describe.drawings.png import png

    return png(_pages(assembly, wish, tiled=False), assembly.robot)


def _dxf(assembly: Assembly, wish: Wish) -> bytes:
    from chassis_describe.drawings.dxf import dxf

    return dxf(_one_deck(assembly, wish, "dxf"), wish.under)


def _stl(assembly: Assembly, wish: Wish) -> bytes:
    from chassis_describe.drawings.stl import stl

    return stl(_one_deck(assembly, wish, "stl"), wish.under)


def _glb(assembly: Assembly, wish: Wish) -> bytes:
    from chassis_describe.drawings.glb import glb

    if wish.deck is not None or wish.template or wish.under:
        raise UsageError("a glb holds the whole robot: --deck, --template and --under mean nothing for it")
    return glb(assembly)


def _one_deck(assembly: Assembly, wish: Wish, ending: str) -> PlateView:
    views = deck_views(assembly)
    if wish.deck is None and len(views) > 1:
        raise UsageError(f"a {ending} holds one plate; say which: --deck {' or --deck '.join(views)}")
    return deck_plate(views[wish.deck] if wish.deck is not None else next(iter(views.values())))


def plate_drawing(view: PlateView, ending: str, wish: Wish) -> bytes:
    """The bare plate of a part, by the ending."""
    if ending == "dxf":
        from chassis_describe.drawings.dxf import dxf

        return dxf(view, wish.under)
    if ending == "stl":
        from chassis_describe.drawings.stl import stl

        return stl(view, wish.under)
    from chassis_describe.drawings.plate_view import plate_hash
    from chassis_describe.drawings.template import plate_page, template_pages

    if ending == "pdf":
        return pages_as(template_pages(view, "part", plate_hash(view), wish.paper, wish.under), f"x.{ending}", view.name)
    return pages_as((plate_page(view, wish.under),), f"x.{ending}", view.name)


#: Ending → the file's bytes. Imports wait until a kind is asked for.
DRAWINGS: Mapping[str, Callable[[Assembly, Wish], bytes]] = {
    "svg": _svg, "pdf": _pdf, "png": _png, "dxf": _dxf, "stl": _stl, "glb": _glb}


def pages_as(pages: Sequence[Page], path: str, title: str) -> bytes:
    """Pages as the ending of a file name asks for. Raises UsageError for one that holds no pages."""
    ending = ending_of_pages(path)
    if ending == "svg":
        from chassis_describe.drawings.svg import svg

        return svg(pages, title)
    if ending == "pdf":
        from chassis_describe.drawings.pdf import pdf

        return pdf(pages, title)
    from chassis_describe.drawings.png import png

    return png(pages, title)


def ending_of_pages(path: str) -> str:
    """The ending of a file that holds pages. Raises UsageError for any other."""
    ending = ending_of(path)
    if ending not in ("svg", "pdf", "png"):
        raise UsageError(f"{path}: this is drawn as .svg, .pdf or .png")
    return ending


def ending_of(path: str) -> str:
    """The kind of drawing that a file name asks for. Raises UsageError that lists the kinds."""
    ending = path.rpartition(".")[2].lower() if "." in path else ""
    if ending not in (*DRAWINGS, "html"):  # the page is no drawing of this room
        raise UsageError(f"{path}: the ending decides what is drawn: {', '.join('.' + e for e in (*DRAWINGS, 'html'))}")
    return ending


def drawing(assembly: Assembly, ending: str, wish: Wish) -> bytes:
    """The bytes of a drawing. Raises UsageError for a deck that there is not."""
    if wish.deck is not None:
        known_deck(assembly, wish.deck)
    return DRAWINGS[ending](assembly, wish)
