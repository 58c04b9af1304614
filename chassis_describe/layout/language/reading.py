"""What one run of the reader carries along: the faults so far, and how to say where they are."""
from __future__ import annotations

import re
from collections.abc import Iterable

from chassis_describe.errors import LayoutError
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.layout.language.not_yet import not_in_this_version
from chassis_describe.source import Mark
from chassis_describe.units import BadNumber, shown
from chassis_describe.words import nearest, with_words
from chassis_describe.yaml_text.nodes import MAX_FAULTS, Map, Node, Scalar, Seq, is_unknown, mark_of

KeyPath = tuple[str, ...]
#: Keys that people write out of other habits → what they are called here, the likeliest first.
_MEANT: dict[str, tuple[str, ...]] = {
    "side": ("face",), "surface": ("face",), "position": ("at",), "pos": ("at",), "xy": ("at",), "location": ("at",),
    "origin": ("at",), "hole": ("at",), "holes": ("screws", "bolts"), "yaw": ("turn",), "angle": ("turn",),
    "rotation": ("turn", "rpy"), "rotate": ("turn",), "orientation": ("turn", "rpy"), "direction": ("points", "axis"),
    "facing": ("points",), "heading": ("points",), "height": ("lift", "length", "thickness"), "spacers": ("lift",),
    "spacing": ("pitch", "length"), "deck": ("on", "decks"), "parent": ("on",), "mount": ("on",), "type": ("part", "kind"),
    "model": ("part",), "mirror": ("mirror_of",), "weight": ("mass", "weighed"), "colour": ("color",),
    "description": ("about", "note"), "comment": ("note",), "plates": ("decks",), "floors": ("decks",),
    "components": ("placements",), "wheels": ("drive",), "frame_id": ("frame",), "radius": ("diameter", "corner"),
    "size": ("rectangle", "box"), "name": ("robot",), "version": ("layout",), "over": ("above",), "under": ("below",)}
_NUMBER = re.compile(r"[-+]?[0-9.]+[)\]]?")
#: Unknown names for which the nearest known one is searched.
MAX_LOOKED_UP = 100


class Reading:
    """Collects every fault of a run; nothing stops at the first."""

    def __init__(self) -> None:
        self.findings: list[Finding] = []
        self.looked_up = 0
        self.file_order: dict[str, int] = {}

    def fault(self, code: str, message: str, node: Node | Mark, path: KeyPath = (), *, hint: str = "",
              also: Iterable[Mark | None] = ()) -> None:
        """One fault at a node (or at a mark), with further places that it is about."""
        if not isinstance(node, Mark):
            if is_unknown(node):
                return
            node = mark_of(node, path)
        if len(self.findings) >= MAX_FAULTS:
            self.findings.append(finding("yaml-syntax", f"more than {MAX_FAULTS} faults; the rest is not read",
                                         hint="mend the first ones", where=[node]))
            raise LayoutError(self.sorted())
        of = (node.path[1],) if len(node.path) > 1 and node.path[0] in ("decks", "placements", "parts") else ()
        self.findings.append(finding(code, message, hint=hint, where=[node, *also], of=of, severity=Severity.ERROR))

    def wrong(self, node: Node, path: KeyPath, accepted: str, *, hint: str = "") -> None:
        """A value of the wrong kind: says what is there, what would be accepted, and more where the slip is known."""
        if isinstance(node, Scalar) and node.is_null:
            comment = "; everything after ` #` is a comment" if not node.text else ""
            self.fault("wrong-type", "there is no value here", node, path,
                       hint=f"write {accepted}, or leave the key out{comment}")
            return
        self.fault("wrong-type", f"{what(node)} stands where {accepted} is due", node, path, hint=hint)

    def number(self, error: BadNumber, node: Node, path: KeyPath, accepted: str) -> None:
        """Text that is no number."""
        if isinstance(node, Scalar) and node.is_null:
            self.wrong(node, path, accepted)
        elif error.kind == "type":
            self.fault("wrong-type", error.message, node, path, hint=error.hint or f"write {accepted}")
        else:
            self.fault("bad-number", error.message, node, path, hint=error.hint)

    def unknown(self, code: str, thing: str, name: str, known: Iterable[str], node: Node | Mark, path: KeyPath = (), *,
                also: Iterable[Mark | None] = ()) -> None:
        """A name or key that does not exist: the nearest one, or all that there are."""
        self.looked_up += 1
        if self.looked_up > MAX_LOOKED_UP:  # a search for each of thousands would take minutes
            self.fault(code, f"`{shown(name)}` is not {thing}", node, path, also=also,
                       hint=f"only the first {MAX_LOOKED_UP} such faults name the nearest that there is")
            return
        known = list(known)
        near = nearest(name, known)
        before, colon, after = name.partition(":")
        if colon and before in known:
            hint = f"write a space after the colon: `{before}: {shown(after) or '…'}`"
        elif code == "unknown-key" and (other := next((w for w in _MEANT.get(name.lower(), ()) if w in known), None)):
            hint = f"did you mean `{other}`?"
        elif code == "unknown-key" and _NUMBER.fullmatch(name):
            hint = ("a comma ends an entry here: write a decimal number with a point (`18.5`), "
                    "two numbers in brackets (`[3, 7]`)")
        elif code == "unknown-key" and (missing := not_in_this_version(name, known)):
            hint = missing
        elif code == "unknown-name" and (inside := with_words(name, known)):
            hint = f"did you mean {' or '.join(f'`{n}`' for n in inside[:6])}?"
        elif near is not None:
            hint = f"did you mean `{near}`?"
        elif not known:
            hint = "there are none"
        else:
            some = known if len(known) <= 24 else [*known[:24], f"and {len(known) - 24} more"]
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
