"""Where a part could go, as a table and as data."""
from __future__ import annotations

import math
from typing import Any

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.headings import whose_forward
from chassis_describe.facts.landings import Landing
from chassis_describe.fit.remedy_words import command_words
from chassis_describe.search.best import Place, Places
from chassis_describe.words import clean, clean_degrees, clean_mm, count, listing, pair, plain, steps


def places_text(assembly: Assembly, found: Places) -> str:
    """Row 0 is now; the numbers are those of ``--write``."""
    name = found.question.placement
    lines = [f"{name}: {count(found.tried, 'place')} tried where all its bolts land on holes, {found.fits} fit"
             + (f" ({', '.join(f'{n} {code}' for code, n in found.refused.items())})" if found.refused else ""),
             f"best by {' then '.join(found.question.prefer)}", "",
             ": ".join(filter(None, (f" 0  now {_name(found.now.to)}", ", ".join(_figures(assembly, found, found.now)))))]
    lines += [f"{n:2}  {_line(assembly, found, p)}" for n, p in enumerate(found.best, start=1)]
    if found.fits > len(found.best):
        lines.append(f"and {found.fits - len(found.best)} more that fit")
    if not found.fits:
        lines.append(_nowhere(assembly, found))
    return "\n".join(lines) + "\n"


def _name(to: Landing | None) -> str:
    if to is None:
        return "on its seat"
    return f"{to.on} {pair(to.at)}" + (" under" if to.face == "under" else "")


def _nowhere(assembly: Assembly, found: Places) -> str:
    """What else there is to try."""
    asked, placed = found.question, assembly.parts[found.question.placement]
    wider = {"more decks": len(asked.decks) < len(assembly.decks), "`--face both`": len(asked.faces) < 2,
             "`--turn quarter`": all(len(turns) < 2 for turns in asked.turns.values())}
    more = [option for option, yes in wider.items() if yes]
    say = [f"{listing(more)} {'tries' if len(more) == 1 else 'try'} more"] if more else []
    if not found.tried and placed.deck is not None and placed.fixing == "bolts" and len(placed.part.bolts) > 1:
        say.append(f"{command_words(assembly.layout, 'adapter', placed.name)} makes a plate for holes that don't match")
    return "nowhere" + (f": {'; '.join(say)}" if say else "")


def _line(assembly: Assembly, found: Places, place: Place) -> str:
    """``upper [-1, 0]: 0° blocked (now 0°), tips at 20.4° (now 19.4°), 1 hole back``."""
    to, now = place.to, found.now
    assert to is not None
    turned = now.to is None or abs(math.remainder(to.turn - now.to.turn, math.tau)) > 1e-9
    turn = f", turn {plain(math.degrees(to.turn), 4)}" if turned else ""
    say = [*_figures(assembly, found, place), _way(assembly, to, now.to)]
    say += [count(len(place.warnings), "warning")] if len(place.warnings) != len(now.warnings) else []
    return f"{_name(to)}{turn}: {', '.join(s for s in say if s)}"


def _figures(assembly: Assembly, found: Places, place: Place) -> list[str]:
    """View and tip angle where the robot has them, and whatever else it was ranked by."""
    own, base, here, prefer = place.score, found.now.score, place is found.now, found.question.prefer
    say = []
    if "view" in prefer or any(s.sensor.kind == "lidar" for s in assembly.sensors):
        was = "" if here else f" (now {plain(math.degrees(base.blocked), 1)}°)"
        say.append(f"{plain(math.degrees(own.blocked), 1)}° blocked{was}")
    if own.tip is not None:
        was = f" (now {plain(math.degrees(base.tip), 1)}°)" if base.tip is not None and not here else ""
        say.append(f"tips at {plain(math.degrees(own.tip), 1)}°{was}")
    if ("com" in prefer or not say) and not here and own.com is not None:
        say.append(f"centre of mass moves {plain(place.com_shift * 1e3, 1)} mm")
    if "footprint" in prefer and own.footprint is not None:
        say.append(f"footprint {plain(own.footprint * 1e6, 0)} mm²")
    return say


def _way(assembly: Assembly, to: Landing, now: Landing | None) -> str:
    if now is None or (now.on, now.face) != (to.on, to.face):
        return ""
    words = steps([v if abs(v) > 1e-6 else 0.0 for v in (to.at[0] - now.at[0], to.at[1] - now.at[1])])
    return f"{' and '.join(words)}{whose_forward(assembly, to.on)}" if words else "as now"


def places_data(found: Places) -> dict[str, Any]:
    """For programs."""
    return {"placement": found.question.placement, "tried": found.tried, "fits": found.fits, "refused": dict(found.refused),
            "now": _data(found.now), "best": [_data(p) for p in found.best]}


def _data(place: Place) -> dict[str, Any]:
    to, s = place.to, place.score
    return {"on": to.on if to else None, "face": to.face if to else None, "at": [clean(v) for v in to.at] if to else None,
            "turn": clean_degrees(to.turn) if to else None, "blocked_deg": clean_degrees(s.blocked),
            "tip_deg": clean_degrees(s.tip) if s.tip is not None else None,
            "com_shift_mm": clean_mm(place.com_shift),
            "footprint_mm2": clean(round(s.footprint * 1e6, 3)) if s.footprint is not None else None,
            "warnings": list(place.warnings), "holes_away": clean(round(place.away, 6))}
