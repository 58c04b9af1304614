"""A further YAML file laid over a layout: one robot with and without its mast is one file and a small second one.

Mappings are laid over one another key by key; lists, texts and numbers replace; ``name: ~`` takes away.
"""
from __future__ import annotations

from chassis_describe.layout.language.reading import KeyPath, Reading
from chassis_describe.yaml_text.nodes import Map, Node, Scalar, is_unknown


def laid_over(base: Node, over: Node, r: Reading, path: KeyPath = ()) -> Node:
    """The base with the overlay laid over it; neither is changed. Every node keeps its own place."""
    if not isinstance(base, Map) or not isinstance(over, Map):
        return _without_nulls(over, r, path)
    out = Map(base.file, base.line, base.column, base.flow)
    out.items.update(base.items)
    for name, (key, value) in over.items.items():
        if is_unknown(key):
            continue
        known, inner = out.items.get(name), (*path, name)
        if isinstance(value, Scalar) and value.is_null:
            if known is None:
                r.unknown("unknown-name", f"there to be taken away{' from ' + ' > '.join(path) if path else ''}", name,
                          base.items, key, inner)
            else:
                del out.items[name]
        elif known is None:
            out.items[name] = (key, _without_nulls(value, r, inner))
        else:
            out.items[name] = (key, laid_over(known[1], value, r, inner))
    return out


def _without_nulls(node: Node, r: Reading, path: KeyPath) -> Node:
    """What is new: nothing in it can be taken away."""
    if isinstance(node, Map):
        for name, (key, value) in node.items.items():
            if isinstance(value, Scalar) and value.is_null and value.text:
                r.fault("unknown-name", f"`{name}` can't be taken away: it is not there", key, (*path, name),
                        hint="leave the line out")
            elif isinstance(value, Map):
                _without_nulls(value, r, (*path, name))
    return node
