"""The look of the drawings: blue, ochre and grey, told apart by shape first and by lightness second."""
from __future__ import annotations

from typing import NamedTuple

#: Colours by name. Blue and ochre stay apart in every common colour blindness, and by lightness in print without colour.
INKS: dict[str, str] = {
    "ink": "#20262b", "grey": "#68727a", "pale": "#a9b1b7", "hair": "#cdd3d7", "paper": "#ffffff",
    "blue": "#1d5a96", "mist": "#dfe9f2", "ochre": "#a8741a", "sand": "#f3e7cf", "plate": "#f5f3ee", "rubber": "#c3c9cd",
    "metal": "#e4e7e9",
    # Five steps of one hue, each darker than the last, in print without colour too.
    "seen-1": "#f1f6fa", "seen-2": "#bbd0e5", "seen-3": "#8fb3d3", "seen-4": "#4a77a5", "seen-5": "#1b4672",
}


class Pen(NamedTuple):
    """``width`` and ``dash`` in mm."""

    ink: str
    width: float
    dash: tuple[float, ...] = ()


PENS: dict[str, Pen] = {
    "edge": Pen("ink", 0.35), "edge-thin": Pen("ink", 0.2), "hole": Pen("grey", 0.13), "hole-blue": Pen("blue", 0.2),
    "hole-ochre": Pen("ochre", 0.2), "hole-grey": Pen("ink", 0.2), "part": Pen("blue", 0.3),
    "part-under": Pen("ochre", 0.3, (1.6, 0.9)), "body": Pen("ink", 0.18), "leader": Pen("pale", 0.13),
    "axis": Pen("pale", 0.13), "ground": Pen("ink", 0.5), "frame": Pen("grey", 0.18), "arrow": Pen("ink", 0.35),
    "footprint": Pen("ink", 0.3, (2.4, 1.0)), "support": Pen("ink", 0.3, (0.4, 0.9)), "view": Pen("blue", 0.18),
    "blocked": Pen("ochre", 0.25), "cone": Pen("grey", 0.18, (1.0, 0.6)), "miss": Pen("ink", 0.45),
    "height": Pen("grey", 0.13), "before": Pen("grey", 0.3, (1.6, 0.9)), "after": Pen("blue", 0.4), "new": Pen("blue", 0.5),
    "cell": Pen("grey", 0.13), "unseen": Pen("ink", 0.13), "ring": Pen("ink", 0.18, (0.3, 0.9)),
    "ring-light": Pen("paper", 0.18, (0.3, 0.9)),
}
#: What a font is asked for, and found under these names on most machines; widths are measured for the widest of them.
FONT = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"
