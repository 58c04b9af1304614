"""All that the page shows of one robot, as plain data: first what it looks like, then what the check says of it."""
from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath
from typing import Any

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.coverage_page import coverage_figure
from chassis_describe.drawings.robot_views import ground_pose
from chassis_describe.drawings.svg import svg
from chassis_describe.drawings.title_block import drawing_hash, mass_text
from chassis_describe.facts.figures import figures_of
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.facts.standing import standing
from chassis_describe.findings import Finding
from chassis_describe.layout.model import InputFile
from chassis_describe.page.decks import decks_data
from chassis_describe.page.eyes import eyes_data
from chassis_describe.page.movable import placements_data
from chassis_describe.page.numbers import point, pose_numbers
from chassis_describe.page.solids import solids_data
from chassis_describe.reports.figures import figures_rows
from chassis_describe.reports.findings_text import bare, count_text, finding_data
from chassis_describe.space.plane.hull import convex_hull


def picture(assembly: Assembly, own: Sequence[InputFile] | None = None) -> dict[str, Any]:
    """The robot to look at. ``own``: the layout and what is laid over it where it may be edited."""
    files = assembly.layout.files
    return {"robot": assembly.robot, "file": PurePath(files[0].path).name, "hash": drawing_hash(assembly),
            "mass": mass_text(assembly), "base_deck": next(iter(assembly.decks)), "decks": decks_data(assembly),
            "solids": solids_data(assembly), "placements": placements_data(assembly, own), "eyes": eyes_data(assembly),
            "frames": _frames(assembly), "ground": _ground(assembly)}


def verdict(assembly: Assembly, findings: Sequence[Finding]) -> dict[str, Any]:
    """What the check says, worst first, the key figures in words, and what is seen around it as an SVG (None: nothing to draw)."""
    seen = coverage_figure(assembly)
    return {"findings": findings_data(findings, assembly), "count": count_text(findings),
            "figures": [list(row) for row in figures_rows(figures_of(assembly))],
            "seen": svg((seen,), seen.title).decode("utf-8") if seen is not None else None}


def findings_data(findings: Sequence[Finding], assembly: Assembly | None = None) -> list[dict[str, Any]]:
    """Findings with the decks and placements that they are about; None: of a layout that does not read."""
    out = []
    for item in findings:
        data = bare(finding_data(item))
        assert isinstance(data, dict)
        data["owners"] = _owners(assembly, item) if assembly is not None else []
        out.append(data)
    return out


def _owners(assembly: Assembly, item: Finding) -> list[str]:
    known = {**assembly.decks, **assembly.parts}
    of_frame = {link.name: link.owner for link in assembly.links}
    names = [*(of_frame.get(n, n) for n in item.of), *(m.path[1] for m in item.where if len(m.path) > 1)]
    return list(dict.fromkeys(n for n in names if n in known))


def _frames(assembly: Assembly) -> list[list[Any]]:
    """``[name, parent, pose]``, the root's parent empty."""
    parents = {j.child: j.parent for j in assembly.joints}
    ground = ground_pose(assembly)
    return [[name, parents.get(name, ""), pose_numbers(ground @ pose)] for name, pose in assembly.poses.items()]


def _ground(assembly: Assembly) -> dict[str, Any] | None:
    """Footprint, support and centre of mass on the ground; None where nothing rolls."""
    stand = standing(assembly)
    if stand is None:
        return None
    return {"footprint": [point([v * 1e3 for v in p]) for p in footprint_of(assembly)],
            "support": [point([v * 1e3 for v in p]) for p in convex_hull(stand.feet)],
            "com": point([v * 1e3 for v in stand.com]) if stand.com is not None else None}
