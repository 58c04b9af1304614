"""One expansion for every placement: made twice with different words for prefix and frame, told apart, marks put in."""
from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chassis_describe.layout.described.names import FRAME, STEM

if TYPE_CHECKING:
    from lxml import etree

#: Two words for each, alike in form to what a robot has: letters first, an underscore behind the prefix.
WORDS = (("qzaprefix", "qzaframe_link"), ("qzbprefix", "qzbframe_link"))


class NotAlike(Exception):
    """What a description writes depends on its prefix otherwise than by carrying it; the message says where."""


class NotXml(Exception):
    """What came out is no XML document; the message is the parser's."""


def marked_tree(texts: tuple[str, str]) -> etree._Element:
    """The tree that two expansions, with the words of ``WORDS``, have in common. Raises NotAlike and NotXml."""
    one, two = (parsed(text) for text in texts)
    for tree, (stem, frame) in zip((one, two), WORDS):
        for node in tree.iter():
            for key, value in node.attrib.items():
                node.set(key, _marked(str(value), stem, frame))
            node.text = _marked(node.text, stem, frame) if node.text else node.text
    _alike(one, two)
    return one


def parsed(text: str | bytes) -> etree._Element:
    """A document's root: comments, processing instructions and blanks between elements left out, nothing fetched."""
    from lxml import etree

    parser = etree.XMLParser(resolve_entities=False, no_network=True, remove_comments=True, remove_pis=True,
                             remove_blank_text=True, huge_tree=False)
    try:
        root = etree.fromstring(text.encode("utf-8") if isinstance(text, str) else text, parser)
    except etree.XMLSyntaxError as error:
        raise NotXml(str(error)) from None
    if "<!DOCTYPE" in (text if isinstance(text, str) else text.decode("utf-8", "replace")):
        raise NotXml("a document type declaration is not accepted")
    return root


def _marked(text: str, stem: str, frame: str) -> str:
    return text.replace(frame, FRAME).replace(stem, STEM)


def _alike(one: etree._Element, two: etree._Element) -> None:
    for a, b in _pairs(one, two):
        if a is None or b is None or a.tag != b.tag or sorted(a.items()) != sorted(b.items()) or (a.text or "") != (b.text or ""):
            there = next(e for e in (a, b) if e is not None)
            raise NotAlike(f"<{there.tag}{' ' + there.get('name', '') if there.get('name') else ''}>".replace(STEM, "…"))


def _pairs(one: etree._Element, two: etree._Element) -> Iterator[tuple[etree._Element | None, etree._Element | None]]:
    waiting: list[tuple[etree._Element | None, etree._Element | None]] = [(one, two)]
    while waiting:
        a, b = waiting.pop()
        yield a, b
        if a is not None and b is not None:
            for n in range(max(len(a), len(b))):
                waiting.append((a[n] if n < len(a) else None, b[n] if n < len(b) else None))
