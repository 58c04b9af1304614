"""The xacro library, called so that it neither ends the program nor keeps anything of one call for the next.

Facts (ros/xacro, branch ros2, xacro/__init__.py): ``process`` ends the interpreter on an error, ``process_doc`` raises;
the stacks of files and macros, the arguments, the list of includes and the root folder are global. Every file is opened
by the modules' own ``open``, which is ours during a call: all that is read is bounded, and known afterwards.
"""
from __future__ import annotations

import io
import os
import posixpath
import threading
import xml.dom.minidom
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, redirect_stderr
from typing import Any
from xml.parsers.expat import ExpatError
from xml.sax.saxutils import quoteattr

from chassis_describe.layout.described.packages import MissingPackage, Packages

NAMESPACE = "http://www.ros.org/wiki/xacro"
_ONE_AT_A_TIME = threading.Lock()
Opener = Callable[[str], bytes]


class ExpansionError(Exception):
    """xacro could not expand it: its own message, and the file that it was reading."""

    def __init__(self, message: str, file: str) -> None:
        super().__init__(message)
        self.file = file


def call_of(file: str, macro: str, arguments: Mapping[str, str], block: str | None) -> str:
    """A document that includes the file and calls its macro once. ``block``: how the macro names the block that gets the
    identity, ``*origin`` (the element) or ``**origin`` (what is in it); None for none."""
    given = "".join(f" {name}={quoteattr(_literal(value))}" for name, value in arguments.items())
    inner = '<origin xyz="0 0 0" rpy="0 0 0"/>' if block else ""
    if block and block.startswith("**"):
        inner = f"<block>{inner}</block>"
    return (f'<robot name="described" xmlns:xacro="{NAMESPACE}"><xacro:include filename={quoteattr(_literal(file))}/>'
            f"<xacro:{macro}{given}>{inner}</xacro:{macro}></robot>")


def _literal(text: str) -> str:
    """Text that xacro takes as it stands."""
    return text.replace("${", "$${").replace("$(", "$$(")


def expanded(file: str, text: str | None, arguments: Mapping[str, str], opener: Opener,
             packages: Packages) -> tuple[str, dict[str, bytes]]:
    """The expanded document, and every file that was opened for it, by path.

    ``text`` stands in for the content of ``file``. Raises ExpansionError, and MissingPackage.
    """
    import xacro
    from xacro import substitution_args

    read: dict[str, bytes] = {}
    missing: list[MissingPackage] = []

    def open_input(path: str, mode: str = "r", **_: Any) -> io.IOBase:
        path = posixpath.normpath(path)
        try:
            data = read[path] if path in read else opener(path)
        except OSError as error:
            raise OSError(error.errno or 0, error.strerror or str(error), path) from None
        read[path] = data
        return io.BytesIO(data) if "b" in mode else io.StringIO(data.decode("utf-8"))

    def find(package: str) -> str:
        try:
            return packages.share(package)
        except MissingPackage as error:
            missing.append(error)
            raise

    with _ONE_AT_A_TIME, _clean_state(xacro, substitution_args, open_input, find):
        try:
            xacro.init_stacks(file)
            document = xacro.parse(text) if text is not None else xacro.parse(None, file)
            xacro.process_doc(document, mappings=dict(arguments), verbosity=0)
            return document.toxml(), read
        except MissingPackage:
            raise
        except RecursionError:
            raise ExpansionError("it calls itself without end", _current(xacro, file)) from None
        except ExpatError as error:
            raise ExpansionError(f"XML parsing error: {error}", _current(xacro, file)) from None
        except SystemExit:
            raise ExpansionError("it ended xacro", _current(xacro, file)) from None
        except Exception as error:  # trusted code of others: whatever it raises is its fault, not the program's
            if missing:
                raise missing[0] from None
            raise ExpansionError(str(error) or repr(error), _current(xacro, file)) from None


def _current(xacro: Any, file: str) -> str:
    stack = [name for name in xacro.filestack or () if name]
    return str(stack[-1]) if stack else file


@contextmanager
def _clean_state(xacro: Any, arguments: Any, open_input: Any, find: Any) -> Iterator[None]:
    """xacro as freshly imported, with our ways to open files and find packages; as it was before, afterwards."""
    keeps = ("filestack", "macrostack", "root_dir", "verbosity", "all_includes", "_global_symbols")
    before = {name: getattr(xacro, name) for name in keeps if hasattr(xacro, name)}
    context = dict(xacro.substitution_args_context)
    finder, evaluated = arguments._eval_find, arguments._eval_dict.get("find")
    xacro.filestack, xacro.macrostack, xacro.root_dir, xacro.all_includes = None, None, os.curdir, []
    xacro.open = open_input
    arguments._eval_find = arguments._eval_dict["find"] = find
    if hasattr(xacro, "create_global_symbols"):
        xacro._global_symbols = xacro.create_global_symbols()
    try:
        with redirect_stderr(io.StringIO()):  # warnings about the file's own style are for its author
            yield
    finally:
        del xacro.open
        for name, value in before.items():
            setattr(xacro, name, value)
        arguments._eval_find, arguments._eval_dict["find"] = finder, evaluated
        xacro.substitution_args_context.clear()
        xacro.substitution_args_context.update(context)


def is_xacro(data: bytes) -> bool:
    """Whether a description has anything for xacro to do: its namespace is declared in it."""
    return b"xmlns:xacro" in data


def macro_parameters(data: bytes, macro: str) -> list[str] | None:
    """The words of a macro's ``params`` in one file; None where it is not defined there."""
    try:
        document = xml.dom.minidom.parseString(data)
    except ExpatError:
        return None
    for element in document.getElementsByTagName("xacro:macro"):
        if element.getAttribute("name") in (macro, f"xacro:{macro}"):
            return str(element.getAttribute("params")).split()
    return None
