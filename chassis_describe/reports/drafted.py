"""What was begun from a mesh, in words."""
from __future__ import annotations

from pathlib import Path

from chassis_describe.layout.part_starter import Drafted
from chassis_describe.space.plane.rims import SlotHole
from chassis_describe.words import count, mm, plain


def drafted_text(done: Drafted) -> str:
    """What was found and what is left to do."""
    base = done.base
    lines = [f"wrote {done.path}" + (f" and {done.mesh_copied}, a copy of the mesh" if done.mesh_copied else "")]
    size = " x ".join(plain(v * 1e3, 2) for v in base.size)
    doubt = ": is that so? --unit says another" if done.guessed else ""
    lines.append(f"  size    {size} mm, its unit taken to be {done.unit}{doubt}")
    lines.append(f"  base    {plain(base.flat * 1e6, 0)} mm² touch the plate")
    lines.append(f"  bolts   {_bolts_in_words(done)}")
    more = len(base.others) + len(base.odd)
    if more:
        lines.append(f"          {count(more, 'more opening')} in the base: see the end of the file")
    weight = done.weight
    lines.append(f"  mass    {plain(weight.mass * 1e3, 2)} g, {weight.source.removeprefix('measure: ')}" if weight else
                 "  mass    not known: weigh it, or say --mass or --material")
    if done.better_up is not None:
        lines.append(f"the mesh has holes on another side: with --up {done.better_up} that side would touch the plate")
    lines += ["measure what is marked so in the file: a mesh is not the part",
              f"next: chassis_describe parts {done.path} {Path(done.path).stem}"]
    return "\n".join(lines) + "\n"


def _bolts_in_words(done: Drafted) -> str:
    bolts = done.base.bolts
    if not bolts:
        return "none: no round hole or slot for a screw in the base plane"
    slots = sum(isinstance(h.rim, SlotHole) for h in bolts)
    kinds = [count(n, what) for n, what in ((len(bolts) - slots, "hole"), (slots, "slot")) if n]
    width = f"{mm(min(h.width for h in bolts))} wide"
    depths = [h.depth for h in bolts if h.depth is not None]
    end = f", {mm(min(depths))} deep" if depths else ""
    return f"{' and '.join(kinds)}, {width}{end}" + (f": {done.passes}" if done.passes else "")
