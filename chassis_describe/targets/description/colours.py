"""Colours: of what a layout gives none to, by what it is made of. Our own choice, muted so that parts stand out."""
from __future__ import annotations

import colorsys
from functools import lru_cache
from typing import NamedTuple

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
#: Hues up to an angle on the colour circle (degrees), as one names them (common practice).
_HUES = ((15, "red"), (45, "orange"), (70, "yellow"), (165, "green"), (255, "blue"), (330, "violet"), (361, "red"))
_BY_ROLE = {"standoff": "brass", "spacer": "spacer", "wheel": "tyre", "caster": "roller", "part": "part"}


class NamedColour(NamedTuple):
    """A colour and its name, without that of the robot."""

    name: str
    color: Color


class Materials:
    """The materials of one robot, named ``<prefix><robot>_<name>`` by what they are or by their colour, in the order of first
    use. No name is the beginning of another: some readers look names up by their beginning."""

    def __init__(self, assembly: Assembly) -> None:
        self._stem = f"{assembly.prefix}{assembly.robot}_"
        self.used: dict[str, Color] = {}

    def of_deck(self, material: str | None) -> str:
        """The material of a plate."""
        return self._take(deck_colour(material))

    def of_body(self, body: Body) -> str:
        """The material of a body: its own colour, or what its role has."""
        return self._take(body_colour(body))

    def of_color(self, color: Color | None) -> str:
        """The material of a colour that a part states; None: the usual one of parts."""
        return self._take(part_colour(color))

    def _take(self, named: NamedColour) -> str:
        full = self._stem + named.name
        self.used.setdefault(full, named.color)
        return full


def deck_colour(material: str | None) -> NamedColour:
    """The colour of a plate, by what it is made of."""
    word = (material or "").lower()
    name = next((colour for key, colour in _BY_WORD if key in word), "plate")
    return NamedColour(name, PALETTE[name])


def body_colour(body: Body) -> NamedColour:
    """The colour of a body: its own, or what its role has."""
    if body.color is None:
        name = _BY_ROLE[body.role]
        if body.role == "standoff" and body.material is not None:
            made_of = deck_colour(body.material).name
            name = "spacer" if made_of == "plate" or "nylon" in body.material.lower() else made_of
        return NamedColour(name, PALETTE[name])
    return part_colour(body.color)


def part_colour(color: Color | None) -> NamedColour:
    """A colour that a part states; None: the usual one of parts."""
    return NamedColour("part", PALETTE["part"]) if color is None else NamedColour(colour_name(color), color)


@lru_cache(maxsize=512)
def colour_name(color: Color) -> str:
    """``grey_8c9199``: a word and the usual six digits, two more for the opacity of what is seen through. Colours that differ by
    less than a screen shows have one name."""
    red, green, blue, opacity = (min(max(v, 0.0), 1.0) for v in color)
    digits = "".join(f"{round(v * 255):02x}" for v in (red, green, blue))
    hue, lightness, saturation = colorsys.rgb_to_hls(red, green, blue)
    if lightness < 0.12 or lightness > 0.93:
        word = "black" if lightness < 0.5 else "white"
    elif saturation < 0.15:
        word = "grey"
    else:
        word = next(name for end, name in _HUES if hue * 360 < end)
    shade = round(opacity * 255)
    return f"{word}_{digits}" if shade == 255 else f"translucent_{word}_{digits}{shade:02x}"
