"""Mappings with a declared table of keys: read strictly, described in the schema and in the manual from one table."""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any, NamedTuple

from chassis_describe.layout.language.kinds import JSON, Name, Type
from chassis_describe.layout.language.reading import KeyPath, Reading
from chassis_describe.source import Mark
from chassis_describe.units import shown
from chassis_describe.yaml_text.nodes import Map, Node, Scalar, Seq, is_unknown, mark_of, written


class Field(NamedTuple):
    """One key: its kind, one sentence about it, whether it has to stand.

    ``default``: what is taken where it does not stand, as a user would write it; ``otherwise``: the same in words, where it
    depends on more than the key.
    """

    name: str
    type: Type
    doc: str
    required: bool = False
    default: Any = None
    otherwise: str = ""
    example: str = ""  # what to write when a required key is missing, where its kind alone would not say

    @property
    def fallback(self) -> str:
        """The default for people: `` `[0, 0]` ``; empty where there is none."""
        if self.default is None or self.otherwise:
            return self.otherwise
        if isinstance(self.default, (int, float)) and not isinstance(self.default, bool):
            return f"{self.default:g}"
        return f"`{_flow(self.default)}`"


def _flow(value: str | bool | tuple[float, ...]) -> str:
    """As YAML, on one line: ``[0, 0]``."""
    if isinstance(value, bool):
        return str(value).lower()
    return value if isinstance(value, str) else f"[{', '.join(f'{v:g}' for v in value)}]"


class Taken:
    """What was read of one mapping: values by key, and where each key stands. A faulty value has a key but no value."""

    __slots__ = ("keys", "node", "path", "record", "values")

    def __init__(self, node: Map, path: KeyPath, record: Record) -> None:
        self.node, self.path, self.record = node, path, record
        self.values: dict[str, Any] = {}
        self.keys: dict[str, Scalar] = {}

    def get(self, name: str, default: Any = None) -> Any:
        """The value of a key; where it was not written, or refused, the language's default, else ``default``."""
        value = self.values.get(name)
        return value if value is not None else self.record.defaults.get(name, default)

    def has(self, name: str) -> bool:
        """Whether the key was written, good or not."""
        return name in self.keys

    def faulty(self, name: str) -> bool:
        """Whether the key was written and its value refused."""
        return name in self.keys and name not in self.values

    def at(self, name: str) -> Node:
        """The node of a key's value."""
        return self.node.items[name][1] if name in self.node.items else self.keys[name]

    def mark(self, name: str | None = None) -> Mark:
        """The place of a key, or of the whole mapping."""
        if name is None or name not in self.keys:
            return mark_of(self.node, self.path)
        return mark_of(self.keys[name], (*self.path, name))

    def marks(self) -> dict[str, Mark]:
        """The place of each key that was written."""
        path = self.path
        return {n: Mark(k.file, k.line, k.column, (*path, n)) for n, k in self.keys.items()}

    def within(self, name: str) -> KeyPath:
        """The path of a key."""
        return (*self.path, name)


#: Every record that there is, to say where a misplaced key would be right.
_ALL: list[Record] = []


class Record(Type):
    """A mapping with known keys.

    ``one_of``: groups of which exactly one key has to stand; ``not_both``: groups of which at most one may.
    """

    def __init__(self, name: str, thing: str, fields: Sequence[Field], *, doc: str = "",
                 one_of: Sequence[tuple[str, ...]] = (), not_both: Sequence[tuple[str, ...]] = (),
                 extra_schema: JSON | None = None, example: str = "") -> None:
        self.name, self.thing, self.doc = name, thing, doc
        self.fields = tuple(fields)
        self.by_name = {f.name: f for f in fields}
        self.readers = {f.name: f.type.read for f in fields}
        self.required = tuple(f.name for f in fields if f.required)
        self.one_of, self.not_both, self.extra_schema = tuple(one_of), tuple(not_both), extra_schema or {}
        example = example or ", ".join(f"{n}: …" for n in (*self.required, *(g[0] for g in one_of))) or \
            f"{self.fields[0].name}: …"
        self.accepts = f"{thing} in the form `{{{example}}}`"
        _ALL.append(self)
        self.words = f"mapping: {thing}"

    @cached_property
    def defaults(self) -> Mapping[str, Any]:
        """The defaults of those keys that have one, as the reader gives values."""
        r = Reading()
        out = {f.name: f.type.read(written(f.default), r, (f.name,)) for f in self.fields if f.default is not None}
        assert not r.findings, r.findings[0].message
        return out

    def read(self, node: Node, r: Reading, path: KeyPath) -> Taken | None:
        if type(node) is not Map:
            r.wrong(node, path, self.accepts)
            return None
        taken = Taken(node, path, self)
        values, keys, readers = taken.values, taken.keys, self.readers
        for name, (key, value) in node.items.items():
            read = readers.get(name)
            if read is None:
                if type(value) is Map and self.name == "layout" and value.items.keys() & {"part", "mirror_of"}:
                    r.fault("unknown-key", f"`{shown(name)}` is not a key of {self.thing}", key, (*path, name),
                            hint="it looks like a placement: indent it like the others under `placements`")
                    continue
                r.unknown("unknown-key", f"a key of {self.thing}{self.elsewhere(name)}", name, self.by_name, key,
                          (*path, name))
                continue
            keys[name] = key
            got = read(value, r, (*path, name))
            if got is not None:
                values[name] = got
        if not node.broken:
            for name in self.required:
                if name not in keys:
                    field = self.by_name[name]
                    r.fault("missing-key", f"{self.thing} needs `{name}`", node, path,
                            hint=f"write `{name}: {field.example}`" if field.example else
                            f"{field.doc.rstrip('.')}: {field.type.accepts}")
            for group in self.one_of:
                self.exactly_one(group, taken, r)
        for group in self.not_both:
            there = 0
            for name in group:
                if name in keys:
                    there += 1
            if there > 1:
                self.at_most_one(group, taken, r)
        return taken

    def elsewhere(self, name: str) -> str:
        """``, but of a lattice``: where a key would be right that is wrong here."""
        things = [record.thing for record in _ALL if name in record.by_name and record.thing != self.thing]
        return f", but of {' or '.join(dict.fromkeys(things))}" if 0 < len(things) <= 4 else ""

    def exactly_one(self, group: tuple[str, ...], taken: Taken, r: Reading) -> None:
        """Report when none or several of a group stand."""
        if not any(name in taken.keys for name in group):
            listed = ", ".join(f"`{n}`" for n in group[:-1]) + f" or `{group[-1]}`"
            r.fault("missing-key", f"{self.thing} needs {listed}", taken.node, taken.path, hint="exactly one of them")
        else:
            self.at_most_one(group, taken, r)

    def at_most_one(self, group: tuple[str, ...], taken: Taken, r: Reading) -> None:
        """Report when several of a group stand."""
        there = [name for name in group if name in taken.keys]
        if len(there) > 1:
            there.sort(key=lambda n: (taken.keys[n].file != taken.node.file, taken.keys[n].line, taken.keys[n].column))
            first, second = there[0], there[1]
            r.fault("bad-value", f"`{second}` and `{first}` exclude one another", taken.keys[second],
                    taken.within(second), hint=f"keep one of them: {', '.join(f'`{n}`' for n in group)}",
                    also=[taken.mark(first)])
            for name in there[1:]:
                taken.values.pop(name, None)

    def schema(self) -> JSON:
        return {"$ref": f"#/$defs/{self.name}"}

    def definition(self) -> JSON:
        """The schema under ``$defs``."""
        properties: JSON = {}
        for field in self.fields:
            inner = field.type.schema()
            doc = field.doc + (f" Default: {field.fallback}." if field.fallback else "")
            if "description" in inner:  # the accepted forms and the plausible range
                doc += f" {inner['description'][0].upper()}{inner['description'][1:]}."
            about: JSON = {"title": field.name, "description": doc}
            if "$ref" in inner:
                inner = {"allOf": [inner]}
            if field.default is not None:
                about["default"] = field.default
            properties[field.name] = {**inner, **about}
        out: JSON = {"title": self.thing, "type": "object", "properties": properties, "additionalProperties": False}
        if self.doc:
            out["description"] = self.doc
        if self.required:
            out["required"] = list(self.required)
        rules: list[JSON] = [{"oneOf": [{"required": [n]} for n in group]} for group in self.one_of]
        for group in self.not_both:
            rules.extend({"not": {"required": [a, b]}} for k, a in enumerate(group) for b in group[k + 1:])
        rules.extend(self.extra_schema.get("allOf", ()))
        if rules:
            out["allOf"] = rules
        return out


class Named(Type):
    """A mapping from names that the user gives to entries of one kind."""

    def __init__(self, thing: str, item: Type, *, reserved: bool = False, name: Type | None = None, words: str = "",
                 least: int = 0) -> None:
        self.thing, self.item, self.least = thing, item, least
        self.name = name or Name(thing, reserved=reserved)
        self.accepts = f"a mapping from names, each to {item.thing if isinstance(item, Record) else item.words}"
        self.words = words or f"name → {item.words}"

    def read(self, node: Node, r: Reading, path: KeyPath) -> dict[str, Any] | None:
        if type(node) is not Map:
            form = "{…}" if isinstance(self.item, Record) else "…"
            dashed = f"write a name of your own in place of each dash: `the_name: {form}`"
            r.wrong(node, path, self.accepts, hint=dashed if isinstance(node, Seq) else "")
            return None
        out: dict[str, Any] = {}
        if len(node.items) < self.least:
            r.fault("bad-value", "nothing stands here, where at least one entry is due", node, path,
                    hint=f"write {self.accepts}")
        check = self.name.good if isinstance(self.name, Name) else None
        for name, (key, value) in node.items.items():
            if is_unknown(key):
                continue
            inner = (*path, name)
            if check is not None:
                check(key, r, inner)
            else:
                self.name.read(key, r, inner)
            out[name] = self.item.read(value, r, inner)
        return out

    def schema(self) -> JSON:
        out: JSON = {"type": "object", "additionalProperties": self.item.schema()}
        names = self.name.schema()
        if "pattern" in names:
            out["propertyNames"] = {"pattern": names["pattern"]}
        if self.least:
            out["minProperties"] = self.least
        return out


class EachOrOne(Type):
    """A record, or a mapping from names to such records: told apart by its keys. Read as names → record, "" for the one."""

    def __init__(self, thing: str, item: Record) -> None:
        self.item, self.each = item, Named(thing, item)
        self.accepts = f"{item.accepts}, or {self.each.accepts}"
        self.words = f"{item.words}, or {self.each.words}"

    def read(self, node: Node, r: Reading, path: KeyPath) -> dict[str, Taken | None] | None:
        if type(node) is Map and any(name in self.item.by_name for name in node.items):
            return {"": self.item.read(node, r, path)}
        return self.each.read(node, r, path)

    def schema(self) -> JSON:
        return {"anyOf": [self.item.schema(), self.each.schema()]}


def records(root: Record) -> list[Record]:
    """All records that a record leads to, itself first, each once, in the order of the fields."""
    found: dict[str, Record] = {}

    def walk(kind: Any) -> None:
        if isinstance(kind, Record):
            if kind.name in found:
                return
            found[kind.name] = kind
            for field in kind.fields:
                walk(field.type)
        else:
            for name in ("item", "scalar", "seq", "mapping"):
                if getattr(kind, name, None) is not None:
                    walk(getattr(kind, name))

    walk(root)
    return list(found.values())
