"""Sectors of a laser filter in a parameter file: which filter of which node holds which of the robot's blind angles."""
from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from chassis_describe.sync.parameters import Parameter
from chassis_describe.sync.wanted import Wanted
from chassis_describe.targets.stack.laser_filter import FILTER
from chassis_describe.yaml_text.spans import Word

_ENDS = ("params.lower_angle", "params.upper_angle")


def sector_values(found: Sequence[Parameter], want: Wanted) -> Mapping[int, float | str]:
    """By number of the parameter, the angle that is due, or the reason why it stays.

    A node belongs to the lidar whose filter node has that name in the compiled package. Its filters are taken in the order of
    their angles, and only where there are as many as blind sectors: else somebody has to write or remove one.
    """
    chains: dict[str, list[str]] = defaultdict(list)
    numbers = {(p.node, p.name): n for n, p in enumerate(found)}
    for p in found:
        if p.leaf == "type" and isinstance(p.value, Word) and p.value.text == FILTER:
            chains[p.node].append(p.above)
    out: dict[int, float | str] = {}
    for node, filters in chains.items():
        pairs = [(numbers.get((node, f + _ENDS[0])), numbers.get((node, f + _ENDS[1]))) for f in filters]
        known = [(low, high) for low, high in pairs if low is not None and high is not None]
        sectors = want.sectors.get(node.rsplit("/", 1)[-1])
        why = _why_not(node, len(known), sectors, want)
        if why is not None or len(known) != len(pairs):
            out |= {n: why or "a filter of this node lacks one of its angles" for pair in pairs for n in pair if n is not None}
            continue
        known.sort(key=lambda pair: _number(found[pair[0]]))
        for (low, high), (lower, upper) in zip(known, sectors or ()):
            out[low], out[high] = lower, upper
    return out


def _why_not(node: str, filters: int, sectors: Sequence[tuple[float, float]] | None, want: Wanted) -> str | None:
    if sectors is None:
        names = ", ".join(sorted(want.sectors)) or "none, the robot has no 2D lidar"
        return f"which lidar {node} filters is not said; nodes of this robot's lidars: {names}"
    if filters != len(sectors):
        return (f"{filters} sectors here, and the robot blocks {len(sectors)} of this scan; `compile` writes them into "
                "config/laser_filter.yaml")
    return None


def _number(parameter: Parameter) -> float:
    try:
        return float(parameter.value.text) if isinstance(parameter.value, Word) else 0.0
    except ValueError:
        return 0.0
