"""What one run of the reader carries along: the faults so far, and how to say where they are."""
from __future__ import annotations

from collections.abc import Iterable

from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.layout.nodes import Map, Node, Scalar, Seq, is_unknown, mark_of, nearest
from chassis_describe.source import LayoutError, Mark
from chassis_describe.units import BadNumber, shown

Path = tuple[str, ...]


class Reading:
    """Collects every fault of a run; nothing stops at the first."""

    def __init__(self) -> None:
        self.findings: list[Finding] = []
        self.file_order: dict[str, int] = {}

    def fault(self, code: str, message: str, node: Node | Mark, path: Path = (), *, hint: str = "",
              also: Iterable[Mark | None] = ()) -> None:
        """One fault at a node (or at a mark), with further places that it is about."""
        if not isinstance(node, Mark):
            if is_unknown(node):
                return
            node = mark_of(node, path)
        of = (node.path[1],) if len(node.path) > 1 and node.path[0] in ("decks", "placements", "parts") else ()
        self.findings.append(finding(code, message, hint=hint, where=[node, *also], of=of, severity=Severity.ERROR))

    def wrong(self, node: Node, path: Path, accepted: str) -> None:
        """A value of the wrong kind: says what is there and what would be accepted."""
        if isinstance(node, Scalar) and node.is_null:
            comment = "; everything after ` #` is a comment" if not node.text else ""
            self.fault("wrong-type", "there is no value here", node, path,
                       hint=f"write {accepted}, or leave the key out{comment}")
            return
        self.fault("wrong-type", f"{what(node)} stands where {accepted} is due", node, path)

    def number(self, error: BadNumber, node: Node, path: Path, accepted: str) -> None:
        """Text that is no number."""
        if isinstance(node, Scalar) and node.is_null:
            self.wrong(node, path, accepted)
        elif error.kind == "type":
            self.fault("wrong-type", error.message, node, path, hint=error.hint or f"write {accepted}")
        else:
            self.fault("bad-number", error.message, node, path, hint=error.hint)

    def unknown(self, code: str, thing: str, name: str, known: Iterable[str], node: Node | Mark, path: Path = (), *,
                also: Iterable[Mark | None] = ()) -> None:
        """A name or key that does not exist: the nearest one, or all that there are."""
        known = list(known)
        near = nearest(name, known)
        if near is not None:
            hint = f"did you mean `{near}`?"
        elif not known:
            hint = "there are none"
        else:
            some = known if len(known) <= 40 else [*known[:40], f"and {len(known) - 40} more"]
            hint = f"known: {', '.join(some)}"
        self.fault(code, f"`{shown(name)}` is not {thing}", node, path, hint=hint, also=also)

    def give_up_on_faults(self) -> None:
        """Raise all faults, in file order, if there are any."""
        if self.findings:
            raise LayoutError(self.sorted())

    def sorted(self) -> tuple[Finding, ...]:
        """The faults in file order, each once."""
        def place(item: Finding) -> tuple[int, int, int]:
            if not item.where:
                return (-1, 0, 0)
            first = item.where[0]
            return (self.file_order.get(first.file, len(self.file_order)), first.line, first.column)

        return tuple(sorted(dict.fromkeys(self.findings), key=place))


def what(node: Node) -> str:
    """A node in words: ``the text `up```, ``a list of 3``."""
    if isinstance(node, Map):
        return "a mapping"
    if isinstance(node, Seq):
        return f"a list of {len(node.items)}" if node.items else "an empty list"
    if node.is_null:
        return "nothing"
    if node.text == "":
        return "an empty text"
    return f"`{shown(node.text)}`"
