"""XML as a tree, with one way to write a number.

Numbers are locale-free and carry 12 significant digits: thin plates keep their triangle rule (they lose it when
rounded to 5 digits or fewer), and the last digits, which could differ between machines, are dropped.
"""
from __future__ import annotations

from collections.abc import Iterable, Sequence

from lxml import etree

from chassis_describe.tolerances import ZERO


def number(value: float) -> str:
    """A finite number as text, at most 12 significant digits, never ``-0``. Raises ValueError when it is not finite."""
    if abs(value) < ZERO:
        return "0"
    text = format(value, ".12g")
    if text[-1] in "fn":  # inf, nan
        raise ValueError(f"{value} can't be written as a number")
    return text


def numbers(values: Iterable[float]) -> str:
    """Numbers with a blank between them."""
    return " ".join([number(v) for v in values])


def angle(value: float) -> str:
    """An angle in radians; what is left of rounded products (under 1e-12 rad) is written as 0."""
    return "0" if abs(value) < 1e-12 else number(value)


def length(value: float) -> str:
    """A length in metres; what is left of rounded sums (under a femtometre) is written as 0."""
    return "0" if abs(value) < 1e-15 else number(value)


def ascii_text(text: str) -> str:
    """Text for an XML comment or attribute that every consumer reads: ASCII, no double hyphen, no ``$``, no ``: ``.

    Launch guesses at YAML when it sees a colon and a blank, and xacro evaluates ``${`` even in comments.
    """
    plain = text.encode("ascii", "replace").decode("ascii")
    for bad, good in (("\t", " "), ("\n", " "), ("$", "S"), (":", ";")):
        plain = plain.replace(bad, good)
    while "--" in plain:
        plain = plain.replace("--", "-")
    return plain.rstrip("-").strip()


def comment(text: str) -> etree._Comment:
    """A comment node that no consumer stumbles over."""
    return etree.Comment(f" {ascii_text(text)} ")


def serialise(root: etree._Element) -> str:
    """The document as text: ``<?xml version="1.0"?>`` without an encoding (lxml refuses a str with one), ASCII."""
    etree.indent(root, space="  ")
    body = etree.tostring(root, encoding="ascii", xml_declaration=False).decode("ascii")
    return f'<?xml version="1.0"?>\n{body}\n'


def child(parent: etree._Element, tag: str, attributes: Sequence[tuple[str, str]] = ()) -> etree._Element:
    """A new element under ``parent``, attributes in the order given."""
    return etree.SubElement(parent, tag, dict(attributes))
