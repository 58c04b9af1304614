"""Where a measured pose says a part is, as a table."""
from __future__ import annotations

import math

from chassis_describe.changes.located import Located, Mounting, place_words
from chassis_describe.words import plain

_ROWS = 5


def located_text(found: Located) -> str:
    """The verdict, then the nearest candidates; numbers are those of ``--write``."""
    head = ("", "place", "off mm", "twist", "height mm", "tilt", "play", "")
    rows = [_row(n, m) for n, m in enumerate(found.candidates, start=1) if n <= _ROWS or m.drawn]
    widths = [max(len(r[k]) for r in (head, *rows)) for k in range(len(head))]
    lines = [f"{found.placement}, by {found.frame} in {found.start}: {found.verdict}", ""]
    lines += ["  ".join(c.rjust(w) if k in (0, 2, 3, 4, 5) else c.ljust(w) for k, (c, w) in enumerate(zip(r, widths))).rstrip()
              for r in (head, *rows)]
    more = len(found.candidates) - len(rows)
    lines += [f"and {more} more (--json has them)"] if more else []
    if not found.whole:
        lines += ["", "Only a part of the pose is given, so the rest is not judged."]
    first = found.candidates[0] if found.candidates else None
    if first is not None and not first.within_play and first.at is None:
        lines += ["", f"It sits on {first.on}: ask for what carries it, if that may have been moved or adjusted."]
    return "\n".join(lines) + "\n"


def _row(number: int, m: Mounting) -> tuple[str, ...]:
    play = "no figure"
    if m.play is not None and m.play_twist is not None:
        play = f"{plain(m.play * 1e3)} mm, {plain(math.degrees(m.play_twist))}°"
    marks = ["as drawn"] if m.same_place else []
    marks += ["within play"] if m.within_play else []
    return (str(number), place_words(m), plain(math.hypot(*m.shift) * 1e3), f"{plain(math.degrees(m.twist))}°", plain(m.z * 1e3),
            f"{plain(math.degrees(m.tilt))}°", play, ", ".join(marks))
