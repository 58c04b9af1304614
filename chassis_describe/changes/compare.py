"""What changed between two robots: frames, figures, findings, work with the screwdriver, and who must hear of it."""
from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.consumers import Restart, WhatChanged, restarts
from chassis_describe.changes.figures import FigureChanges, figure_changes
from chassis_describe.changes.identity import FrameKey, base_in_base_deck, frame_keys, renamed_owners, same_pose
from chassis_describe.changes.joints import JointChange, joint_changes
from chassis_describe.changes.screwdriver import Work, work_between
from chassis_describe.facts.figures import Figures
from chassis_describe.findings import Finding
from chassis_describe.space.pose import Pose, Vec3, multiply, to_rpy, transpose
from chassis_describe.values import dataclass
from chassis_describe.words import clean


@dataclass(frozen=True, kw_only=True)
class Side:
    """One of the two robots: put together, checked, and its key figures."""

    assembly: Assembly
    findings: Sequence[Finding]
    figures: Figures


class Moved(NamedTuple):
    """A frame whose pose in base_link changed: shift in base_link axes (m), turn about base_link's fixed axes (rad)."""

    frame: str
    shift: Vec3
    rpy: Vec3


@dataclass(frozen=True, kw_only=True)
class Change:
    """Everything that differs.

    ``base``: how base_link itself has moved against the base deck (axes of that deck), None where it has not; then all
    frames count from another place.
    """

    base: Moved | None = None
    moved: tuple[Moved, ...] = ()
    added: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    renamed: tuple[tuple[str, str], ...] = ()
    changed: FigureChanges
    gained: tuple[Finding, ...] = ()
    lost: tuple[Finding, ...] = ()
    work: tuple[Work, ...] = ()
    joints: tuple[JointChange, ...] = ()
    restart: tuple[Restart, ...] = ()

    @property
    def nothing(self) -> bool:
        """Whether the two describe one robot."""
        return not (self.moved or self.added or self.removed or self.renamed or self.changed or self.gained
                    or self.lost or self.work or self.joints)


def compare(old: Side, new: Side) -> Change:
    """The change from ``old`` to ``new``."""
    owners = renamed_owners(old.assembly, new.assembly)
    before = {_renamed(key, owners): name for key, name in frame_keys(old.assembly).items()}
    after = frame_keys(new.assembly)
    moved = [_moved(after[key], old.assembly.poses[name], new.assembly.poses[after[key]])
             for key, name in before.items()
             if key in after and not same_pose(old.assembly.poses[name], new.assembly.poses[after[key]])]
    renamed = [(name, after[key]) for key, name in before.items() if key in after and after[key] != name]
    added = tuple(name for key, name in after.items() if key not in before)
    removed = tuple(name for key, name in before.items() if key not in after)
    kept = {name: after[key] for key, name in before.items() if key in after}
    changed = figure_changes(old.figures, new.figures, (old.assembly, new.assembly), owners, kept)
    gained, lost = _findings(old.findings, new.findings, {**owners, **kept})
    joints = joint_changes(old.assembly, new.assembly, kept)
    base_before, base_after = base_in_base_deck(old.assembly), base_in_base_deck(new.assembly)
    return Change(base=None if same_pose(base_before, base_after) else _moved(new.assembly.base, base_before, base_after),
                  moved=tuple(moved), added=added, removed=removed, renamed=tuple(renamed), changed=changed,
                  gained=gained, lost=lost, joints=joints, work=work_between(old.assembly, new.assembly, owners),
                  restart=restarts(WhatChanged(
                      old=old.assembly, new=new.assembly, frames=kept, moved=[m.frame for m in moved], added=added,
                      removed=removed, renamed=renamed, changed=changed, joints=joints)))


def _renamed(key: FrameKey, owners: Mapping[str, str]) -> FrameKey:
    return key._replace(owner=owners.get(key.owner, key.owner))


def _moved(frame: str, old: Pose, new: Pose) -> Moved:
    shift = tuple(clean(b - a) for a, b in zip(old.t, new.t))
    turn = to_rpy(multiply(new.r, transpose(old.r)))
    return Moved(frame, shift, tuple(clean(v) for v in turn))  # type: ignore[arg-type]


# ------------------------------------------------------------------------------------------------------------ findings
def _findings(old: Sequence[Finding], new: Sequence[Finding],
              names: Mapping[str, str]) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Findings that came and went. One whose numbers alone have changed has done neither."""
    return _more(new, old, {}, names), _more(old, new, names, {})


def _more(here: Sequence[Finding], there: Sequence[Finding], names: Mapping[str, str],
          their_names: Mapping[str, str]) -> tuple[Finding, ...]:
    """What there is more of here: by code, severity and what it is of; of several alike, those that say something new."""
    def key(item: Finding, known: Mapping[str, str]) -> tuple[str, str, bool, tuple[str, ...]]:
        of = tuple(sorted(known.get(n, n) for n in item.of))
        return item.code, item.severity.value, item.accepted is not None, of

    known = Counter(key(f, their_names) for f in there)
    said = Counter((key(f, their_names), f.message) for f in there)
    mine: dict[tuple[str, str, bool, tuple[str, ...]], list[Finding]] = {}
    for item in here:
        mine.setdefault(key(item, names), []).append(item)
    out = []
    for group, items in mine.items():
        surplus = len(items) - known[group]
        if surplus > 0:
            left = said.copy()
            fresh, stale = [], []
            for item in items:
                if left[group, item.message] > 0:
                    left[group, item.message] -= 1
                    stale.append(item)
                else:
                    fresh.append(item)
            out += [*fresh, *stale][:surplus]
    return tuple(out)
