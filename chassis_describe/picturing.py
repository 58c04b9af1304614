"""The line of `draw`: a layout file to a drawing on disk."""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from chassis_describe import compiler
from chassis_describe.disk.ours import write_ours
from chassis_describe.drawings.paper import MARK
from chassis_describe.drawings.table import Wish, drawing, ending_of
from chassis_describe.findings import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What became of a file; ``changed`` is False where it held these bytes already."""

    path: str
    changed: bool
    findings: tuple[Finding, ...]


def draw(path: str, out: str, *, text: bytes | None = None, overlays: Sequence[str] = (), deck: str | None = None,
         template: bool = False, under: bool = False, paper: str = "a4", replace: bool = False) -> Drawn:
    """Draw a layout into the file ``out``, whose ending decides the kind.

    Raises LayoutError where the layout does not read, UsageError for a wish that makes no sense, TargetError where the file
    is not ours.
    """
    ending = ending_of(out)
    assembly = compiler.assemble(compiler.read(path, text=text, overlays=overlays))
    plate = template or ending in ("dxf", "stl")
    findings = () if plate else tuple(compiler.check(assembly))
    wish = Wish(findings=findings, deck=deck, template=template, under=under, paper=paper)
    data = drawing(assembly, ending, wish)
    return Drawn(path=out, changed=write_ours(Path(out), data, MARK, replace=replace), findings=findings)
