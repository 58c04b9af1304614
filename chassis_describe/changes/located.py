"""Mountings that could give a measured pose, and what that comes to in words."""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from chassis_describe.layout.model import Face
from chassis_describe.values import dataclass, field
from chassis_describe.words import clean, clean_degrees, clean_mm, pair, plain


@dataclass(frozen=True, kw_only=True)
class Mounting:
    """One candidate. ``shift``: of the part's origin from its place, in the axes of the deck or seat (m); ``z`` away from the
    face, ``twist`` counter-clockwise seen from outside, ``tilt`` of the part's own axis (rad). ``set``: the part's adjustments
    on the way to the measured frame (rad, of a slide m); ``solved``: they are what fits best, not as written. ``play`` (m) and
    ``play_twist`` (rad): what all screws from the base to the measured frame allow there; None without a figure.
    ``holes_alike``: so many holes of its deck, face and turn beside those of the candidates leave as little.
    """

    on: str
    face: Face | None
    at: tuple[float, float] | None
    turn: float
    set: Mapping[str, float] = field(default_factory=dict)
    slides: frozenset[str] = frozenset()
    solved: bool = False
    drawn: bool = False
    mirrored: bool = False
    shift: tuple[float, float] = (0.0, 0.0)
    twist: float = 0.0
    z: float = 0.0
    tilt: float = 0.0
    play: float | None = None
    play_twist: float | None = None
    within_play: bool = False
    holes_alike: int = 0

    @property
    def same_place(self) -> bool:
        """Whether it is the mounting of the layout, adjustments too."""
        return self.drawn and not self.solved

    def settings(self) -> dict[str, float]:
        """Adjustments as they are written: degrees, mm."""
        return {n: clean(round(v * 1e3, 4) if n in self.slides else round(math.degrees(v), 4)) for n, v in self.set.items()}


@dataclass(frozen=True, kw_only=True)
class Located:
    """The answer for one placement; ``frame`` was measured in ``start``, ``whole``: in place and attitude."""

    placement: str
    frame: str
    start: str
    whole: bool
    candidates: tuple[Mounting, ...]

    @property
    def alike(self) -> tuple[Mounting, ...]:
        """The first candidate, and those that the measurement can't tell from it."""
        first = self.candidates[0]
        return tuple(m for m in self.candidates if m.within_play == first.within_play
                     and math.dist((*m.shift, m.z, m.twist, m.tilt), (*first.shift, first.z, first.twist, first.tilt)) < 1e-6)

    @property
    def verdict(self) -> str:
        """In words."""
        if not self.candidates:
            return "not on the lattice: its bolts meet no holes anywhere"
        first = self.candidates[0]
        if first.drawn and first.within_play:
            return f"in its hole, adjusted otherwise: {set_words(first)}, within play" if first.solved else "as drawn, within play"
        if not first.within_play:
            return f"not on the lattice: nearest is {place_words(first)}, {left_words(first)}, which is more than its play"
        drawn = next((m for m in self.candidates if m.drawn), None)
        alike = [m for m in self.alike if m.within_play]
        more = len(alike) - 3 + sum({(m.on, m.face, m.turn): m.holes_alike for m in alike}.values())
        where = " or ".join(place_words(m) for m in alike[:3]) + (f" or {more} more" if more > 0 else "")
        return f"{_kind(first, drawn)}: {where}, within play"


def _kind(m: Mounting, drawn: Mounting | None) -> str:
    if drawn is not None and m.on == drawn.on:
        if m.face != drawn.face:
            return "hung from the other face"
        if m.mirrored:
            return "mirrored"
        if m.at == drawn.at:
            return "turned otherwise"
        return "another hole"
    return "another hole"


def place_words(m: Mounting) -> str:
    """``upper [2, 0], turn 90, pitch 15°``."""
    at = f" {pair(m.at, 4)}" if m.at is not None else ""
    face = " (under)" if m.face == "under" else ""
    turn = f", turn {plain(math.degrees(m.turn), 4)}"
    return f"{m.on}{at}{face}{turn}" + (f", {set_words(m)}" if m.solved else "")


def set_words(m: Mounting) -> str:
    """``pitch 15°``."""
    return ", ".join(f"{n} {plain(v, 2)}{' mm' if n in m.slides else '°'}" for n, v in m.settings().items())


def left_words(m: Mounting) -> str:
    """What remains, in words."""
    say = [f"{plain(math.hypot(*m.shift) * 1e3)} mm off"]
    say += [f"{plain(abs(m.z) * 1e3)} mm too {'high' if m.z > 0 else 'low'}"] if abs(m.z) > 5e-6 else []
    say += [f"turned by {plain(math.degrees(m.twist))}°"] if abs(m.twist) > 1e-4 else []
    say += [f"tilted by {plain(math.degrees(m.tilt))}°"] if m.tilt > 1e-4 else []
    return " and ".join([", ".join(say[:-1]), say[-1]] if len(say) > 1 else say)


def located_data(found: Located) -> dict[str, Any]:
    """For programs: mm and degrees."""
    return {"verdict": found.verdict, "candidates": [
        {"on": m.on, "face": m.face, "at": None if m.at is None else [clean(v) for v in m.at],
         "turn": clean_degrees(m.turn), "set": m.settings(), "shift_mm": clean_mm(math.hypot(*m.shift)),
         "twist_deg": clean_degrees(m.twist), "z_mm": clean_mm(m.z), "tilt_deg": clean_degrees(m.tilt),
         "play_mm": None if m.play is None else clean_mm(m.play),
         "play_deg": None if m.play_twist is None else clean_degrees(m.play_twist),
         "within_play": m.within_play} for m in found.candidates]}
