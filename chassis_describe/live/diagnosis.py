"""What the node has to say as ``diagnostic_msgs/DiagnosticStatus``: the layout, the description, what to restart, each finding."""
from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from diagnostic_msgs.msg import DiagnosticStatus, KeyValue

from chassis_describe.changes.compare import Change
from chassis_describe.changes.consumers import PUBLISHER
from chassis_describe.errors import never
from chassis_describe.findings import Finding, Severity
from chassis_describe.live.following import Bad
from chassis_describe.source import file_as_said

#: What the node does itself when a save comes.
_OURS = ("reload",)


def told_of(change: Change, *, alone: bool) -> list[str]:
    """``restart SLAM and localization: ...``: what has to be done because of a change, in the words of `compare`. ``alone``: the
    node publishes the description itself, the complete frames each time, and there is no other publisher to restart."""
    return [f"{r.action}: {r.because}" if r.action.endswith(" again") else f"{r.action} {r.consumer}: {r.because}"
            for r in change.restart if r.action not in _OURS and not (alone and r.consumer == PUBLISHER)]


def gone_from(change: Change) -> list[str]:
    """Frames that there are no more under that name; who has heard of one goes on believing in it."""
    return [*change.removed, *(old for old, _ in change.renamed)]


def layout_status(name: str, hardware: str, path: str, bad: Bad | None, published: bool) -> DiagnosticStatus:
    """Of the layout as it is on the disk. ``published``: there is a good one before it."""
    if bad is None:
        return status(f"{name}: layout", hardware, Severity.NOTE, f"{path} is read and published", {"file": path})
    stays = "the robot keeps its last good description" if published else "nothing is published yet"
    values = {"file": path, **({} if not bad.findings else _values(bad.findings[0]))}
    return status(f"{name}: layout", hardware, Severity.ERROR, f"{bad.words}; {stays}", values)


def change_status(name: str, hardware: str, rows: Sequence[str], gone: Sequence[str]) -> DiagnosticStatus:
    """What the last save asks of others: :func:`told_of` and :func:`gone_from`."""
    values = {**{f"{k}": row for k, row in enumerate(rows, start=1)}, **({"frames gone": ", ".join(gone)} if gone else {})}
    if not rows:
        return status(f"{name}: to be told", hardware, Severity.NOTE, "nobody has to be told of the last save", values)
    return status(f"{name}: to be told", hardware, Severity.WARNING, "; ".join(rows), values)


def finding_statuses(name: str, hardware: str, findings: Sequence[Finding]) -> list[DiagnosticStatus]:
    """One for each finding; names tell them apart by code and what they are of, then by number."""
    names: dict[str, int] = {}
    out = []
    for item in findings:
        label = f"{name}: {item.code}" + (f" {', '.join(item.of)}" if item.of else "")
        names[label] = names.get(label, 0) + 1
        label = label if names[label] == 1 else f"{label} ({names[label]})"
        out.append(status(label, hardware, item.severity, item.message + (f"; {item.hint}" if item.hint else ""), _values(item)))
    return out


def status(name: str, hardware: str, severity: Severity, message: str, values: Mapping[str, str]) -> DiagnosticStatus:
    """Notes are OK: nothing is wrong."""
    return DiagnosticStatus(name=name, hardware_id=hardware, level=_level(severity), message=message,
                            values=[KeyValue(key=k, value=v) for k, v in values.items()])


def _level(severity: Severity) -> bytes:
    if severity is Severity.ERROR:
        return bytes(DiagnosticStatus.ERROR)
    if severity is Severity.WARNING:
        return bytes(DiagnosticStatus.WARN)
    if severity is Severity.NOTE:
        return bytes(DiagnosticStatus.OK)
    raise never(severity)


def _values(item: Finding) -> dict[str, str]:
    out = {"code": item.code}
    if item.where:
        mark = item.where[0]
        out |= {"file": file_as_said(mark.file), "line": str(mark.line), "column": str(mark.column)}
        out |= {"at": mark.where} if mark.path else {}
    out |= {"hint": item.hint} if item.hint else {}
    for key, number in (("measured", item.measured), ("allowed", item.allowed)):
        if number is not None:
            out[key] = f"{number:g}{f' {item.unit}' if item.unit else ''}"
    return out | ({"accepted": item.accepted} if item.accepted is not None else {})


def lines(findings: Iterable[Finding]) -> list[str]:
    """Findings for the log, one line each."""
    return [str(f) for f in findings]
