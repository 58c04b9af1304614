"""Colours: of what a layout gives none to, by what it is made of. Our own choice, muted so that parts stand out."""
from __future__ import annotations

from chassis_describe.assembly.model import Assembly, Body, Color

#: Share of red, green, blue, and opacity.
PALETTE: dict[str, Color] = {
    "plywood": (0.78, 0.64, 0.45, 1.0),
    "clear": (0.75, 0.85, 0.88, 0.6),
    "printed": (0.35, 0.42, 0.45, 1.0),
    "metal": (0.72, 0.73, 0.75, 1.0),
    "plate": (0.55, 0.57, 0.58, 1.0),
    "brass": (0.71, 0.60, 0.30, 1.0),
    "spacer": (0.90, 0.89, 0.84, 1.0),
    "tyre": (0.16, 0.16, 0.17, 1.0),
    "roller": (0.62, 0.63, 0.65, 1.0),
    "part": (0.38, 0.44, 0.50, 1.0),
}

_BY_WORD = (("plywood", "plywood"), ("mdf", "plywood"), ("wood", "plywood"), ("acryl", "clear"),
            ("polycarbonate", "clear"), ("pla", "printed"), ("petg", "printed"), ("abs", "printed"),
            ("nylon", "printed"), ("alumin", "metal"), ("steel", "metal"), ("brass", "brass"))
_BY_ROLE = {"standoff": "brass", "spacer": "spacer", "wheel": "tyre", "caster": "roller", "part": "part"}


class Materials:
    """The materials of one robot, named ``<prefix><robot>_<name>`` in the order of first use."""

    def __init__(self, assembly: Assembly) -> None:
        self._stem = f"{assembly.prefix}{assembly.robot}_"
        self._names: dict[Color, str] = {}
        self.used: dict[str, Color] = {}

    def of_deck(self, material: str | None) -> str:
        """The material of a plate."""
        word = (material or "").lower()
        name = next((colour for key, colour in _BY_WORD if key in word), "plate")
        return self._take(name, PALETTE[name])

    def of_body(self, body: Body) -> str:
        """The material of a body: its own colour, or what its role has."""
        if body.color is None:
            name = _BY_ROLE[body.role]
            return self._take(name, PALETTE[name])
        return self.of_color(body.color)

    def of_color(self, color: Color | None) -> str:
        """The material of a colour that a part states; None: the usual one of parts."""
        if color is None:
            return self._take("part", PALETTE["part"])
        name = self._names.get(color)
        if name is None:
            name = self._names[color] = f"color_{len(self._names) + 1}"
        return self._take(name, color)

    def _take(self, name: str, color: Color) -> str:
        full = self._stem + name
        self.used.setdefault(full, color)
        return full
