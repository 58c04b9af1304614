"""Decks as the page draws them: in plan, and as plates in space. Millimetres, deck coordinates."""
from __future__ import annotations

from functools import lru_cache
from typing import Any

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.robot_views import ground_pose
from chassis_describe.drawings.views import DeckView, PlanPart, User, deck_views
from chassis_describe.page.numbers import point, pose_numbers, short
from chassis_describe.space.plate.contours import Contour
from chassis_describe.space.plate.mesh import face_loops
from chassis_describe.space.plate.plate import Plate
from chassis_describe.space.plate.triangulate import triangulate


def decks_data(assembly: Assembly) -> list[dict[str, Any]]:
    """Every deck, in the order of the file."""
    return [_deck(assembly, view) for view in deck_views(assembly).values()]


def part_outline(part: PlanPart) -> dict[str, Any]:
    """What a placement covers in the plan of its deck."""
    return {"name": part.name, "face": part.face, "contours": [contour_data(c) for c in (*part.outer, *part.inner)],
            "anchor": point(part.anchor), "origin": point(part.origin),
            "forward": point(part.forward, 6) if part.forward is not None else None, "detail": part.detail}


def contour_data(contour: Contour) -> list[list[float]]:
    """Edge by edge ``[x, y]`` of its start, of a round one also its centre and 1 (counter-clockwise) or 0."""
    return [[*point(e.start)] if e.centre is None else [*point(e.start), *point(e.centre), 1 if e.left else 0] for e in contour]


def _deck(assembly: Assembly, view: DeckView) -> dict[str, Any]:
    pose = ground_pose(assembly) @ view.facet.pose
    slots = [{"at": point(s.centre), "length": short(s.length), "width": short(s.width), "turn": short(s.turn, 9),
              "used": _sign(users)} for s, users in zip(view.cut.slots, (*view.slot_users, *[()] * len(view.cut.slots)))]
    return {
        "name": view.name, "pose": pose_numbers(pose), "thickness": short(view.facet.plate.thickness * 1e3),
        "bounds": [short(v) for v in view.bounds], "contours": [contour_data(c) for c in (*view.cut.outer, *view.cut.inner)],
        "slots": slots, "holes": [[h.name, *point(h.at), short(h.diameter), _sign(h.users), [u.name for u in h.users]]
                                  for h in view.holes],
        "parts": [part_outline(p) for p in view.parts],
        "misses": [[*point(m.at), m.user] for m in view.misses],
        "rows": [[i, short(x)] for i, x in view.rows.items()], "columns": [[j, short(y)] for j, y in view.columns.items()],
        "face": _face(view.facet.plate)}


def _sign(users: tuple[User, ...]) -> str:
    """What a hole shows: ``t`` used from the top face, ``u`` from the under face, ``s`` by a standoff."""
    signs = {"s" if u.kind == "standoff" else "t" if u.face == "top" else "u" for u in users}
    return "".join(sorted(signs))


@lru_cache(maxsize=32)
def _face(plate: Plate) -> dict[str, Any]:
    """The top face as triangles: loops of corners (x, y one after the other), and corner numbers through all loops.

    Kept for plates that stay as they are from one save to the next.
    """
    loops = [loop.tolist() for loop in face_loops(plate)]
    return {"loops": [[short(v * 1e3, 3) for corner in loop for v in corner] for loop in loops],
            "triangles": [k for triangle in triangulate(loops) for k in triangle]}
