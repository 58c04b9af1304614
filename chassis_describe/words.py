"""Numbers, places and names as people read them: millimetres, holes, lists, and what a misspelt name most probably means."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence


def plain(value: float, digits: int = 2) -> str:
    """A number with at most so many decimals and none that are 0."""
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def fixed(value: float, digits: int) -> str:
    """A number with exactly so many decimals, never ``-0.0``: for columns and figures that are compared by eye."""
    text = f"{value:.{digits}f}"
    return text.lstrip("-") if float(text) == 0 else text


def significant(value: float, digits: int = 4) -> str:
    """A number with at most so many digits that count, never as a power of ten; what is left of rounding (under 5e-5) is 0."""
    return "0" if abs(value) < 5e-5 else plain(float(f"{value:.{digits}g}"), digits + 5)


def told_apart(old: float, new: float, digits: int, most: int = 3) -> tuple[str, str] | None:
    """Two numbers with as many decimals as it takes to see that they differ, up to ``most`` more; None where even these don't."""
    for more in range(most + 1):
        was, now = fixed(old, digits + more), fixed(new, digits + more)
        if was != now:
            return was, now
    return None


def clean(value: float) -> float:
    """A number for programs: 12 significant digits, remains of rounding as 0, never -0."""
    return 0.0 if abs(value) < 1e-12 else float(format(value, ".12g"))


def clean_mm(metres: float) -> float:
    """Millimetres for programs, to a nanometre."""
    return clean(round(metres * 1e3, 6))


def clean_degrees(radians: float) -> float:
    """Degrees for programs, to a millionth."""
    return clean(round(math.degrees(radians), 6))


def millimetres(metres: float, digits: int = 2) -> str:
    """``6.5``: a length without its unit, as in columns and lists that name it once."""
    return plain(metres * 1e3, digits)


def mm(metres: float, digits: int | None = None) -> str:
    """``6.5 mm``; with two decimals unless told, small lengths with two digits that count."""
    if digits is None:
        value = abs(metres * 1e3)
        digits = 2 if value >= 0.1 or value == 0 else min(6, 1 - math.floor(math.log10(value)))
    return f"{millimetres(metres, digits)} mm"


def distance_words(length: float) -> str:
    """``0.25 m``, ``80 mm``: of distances as wide apart as those that sensors reach."""
    return f"{significant(length, 6)} m" if length >= 0.1 else mm(length)


def amount_words(value: float, kind: str, digits: int = 4) -> str:
    """``12°`` or ``30 mm``: how far a joint is turned (``kind`` turn, radians) or slid (metres)."""
    return f"{amount(value, kind, digits)}{'°' if kind == 'turn' else ' mm'}"


def amount(value: float, kind: str, digits: int = 4) -> str:
    """The same without its unit."""
    return plain(math.degrees(value), digits) if kind == "turn" else millimetres(value, digits)


def pair(values: Sequence[float], digits: int = 3) -> str:
    """``[3, -2.5]``."""
    return f"[{', '.join(plain(v, digits) for v in values)}]"


def hole_name(hole: tuple[int, int] | int, on: str) -> str:
    """``hole [3, -2] of lower``; holes off the lattice are counted from 1 in the order of the file."""
    if isinstance(hole, int):
        return f"{'hole' if '.' in on else 'drilled hole'} {hole + 1} of {on}"
    return f"hole [{hole[0]}, {hole[1]}] of {on}"


def steps(holes: Sequence[float], *, on_deck: bool = True, fine: float = 0.0) -> list[str]:
    """``2 holes forward``, ``1 hole left`` on a deck; ``2 holes along +i`` on a seat, which has no front of its own.

    ``fine``: the pitch in metres, where steps of under a quarter of a hole are to be said in millimetres.
    """
    words = []
    for step, axis, ways in zip(holes, "ij", (("forward", "back"), ("left", "right"))):
        if abs(step) > 1e-9:
            number = plain(abs(step), 3)
            size = mm(abs(step) * fine) if fine and abs(step) < 0.24 else f"{number} hole{'' if number == '1' else 's'}"
            words.append(f"{size} {ways[step < 0]}" if on_deck else f"{size} along {'+' if step > 0 else '-'}{axis}")
    return words


def listing(items: Iterable[str], most: int = 4, last: str = " and ") -> str:
    """``a, b and c``; ``last``: what is before the last one. Long lists end with how many more there are."""
    names = list(items)
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])}{last}{names[-1]}" if names else "nothing"


def near_names(name: str, known: Iterable[str], *, most: int = 1, alike: float = 0.6) -> list[str]:
    """The known names that a misspelt one may mean, nearest first, whatever their case; ``alike`` 0 … 1."""
    from difflib import get_close_matches  # needed after a mistake only

    by_lower = {k.lower(): k for k in known}
    return [by_lower[found] for found in get_close_matches(name.lower()[:100], by_lower, n=most, cutoff=alike)]


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name that a misspelt one most probably means."""
    return next(iter(near_names(name, known)), None)


def away_from(normal: tuple[float, float], point: Sequence[float],
              points: Sequence[Sequence[float]]) -> tuple[float, float]:
    """A normal of a line through a point, turned so that it points away from the middle of other points (x, y)."""
    middle = [sum(p[k] for p in points) / len(points) for k in (0, 1)]
    outward = normal[0] * (point[0] - middle[0]) + normal[1] * (point[1] - middle[1]) >= 0
    return normal if outward else (-normal[0], -normal[1])


def heading(dx: float, dy: float) -> str:
    """A direction in the ground plane (x forward, y left) in words: ``forward``, ``back and left``."""
    along, across = ("forward" if dx > 0 else "back"), ("left" if dy > 0 else "right")
    if abs(dy) < 0.25 * abs(dx):
        return along
    return across if abs(dx) < 0.25 * abs(dy) else f"{along} and {across}"


def count(number: int, word: str) -> str:
    """``1 hole``, ``2 holes``."""
    return f"{number} {word}{'' if number == 1 else 's'}"


def not_known(name: str, kind: str, known: Iterable[str]) -> str:
    """``` `lidr` is not a placement; did you mean `lidar`? ```: or which there are, where none is alike."""
    names = list(known)
    near = nearest(name, names)
    article = "an" if kind[0] in "aeiou" else "a"
    return f"`{name}` is not {article} {kind}; " + (f"did you mean `{near}`?" if near else f"known: {', '.join(names) or 'none'}")


def with_words(name: str, known: Iterable[str]) -> list[str]:
    """The known names that have all the words of another among theirs: ``imu`` is in ``imu_board``; then those that have them
    at the end of longer ones: ``motor`` in ``gearmotor``."""
    words = set(name.lower().split("_"))
    if not all(words):
        return []
    split = {k: k.lower().split("_") for k in known}
    whole = [k for k, own in split.items() if words <= set(own)]
    return whole + [k for k, own in split.items() if k not in whole and all(
        any(o == w or (len(w) > 3 and o.endswith(w)) for o in own) for w in words)]
