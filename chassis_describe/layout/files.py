"""The files that a layout is read from, and how they are opened."""
from __future__ import annotations

import posixpath
from collections.abc import Callable

from chassis_describe.errors import UsageError
from chassis_describe.inputs import open_input
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.model import InputFile
from chassis_describe.source import Mark
from chassis_describe.units import shown
from chassis_describe.yaml_text.compose import compose
from chassis_describe.yaml_text.nodes import Map, Node, decoded

Opener = Callable[[str], bytes]


def from_disk(path: str) -> bytes:
    """The bytes of a file."""
    return open_input(path)


def reason_of(error: Exception) -> str:
    """Why an input could not be opened, to stand after its name."""
    if isinstance(error, FileNotFoundError):
        return "is not there"
    if isinstance(error, IsADirectoryError):
        return "is a folder"
    if isinstance(error, PermissionError):
        return "may not be read: its permissions forbid it"
    return f"can't be read: {getattr(error, 'strerror', None) or error}"


def input_file(path: str, text: str | bytes | None, opener: Opener) -> InputFile:
    if text is not None:
        data = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
        return InputFile(path=path, data=data)
    try:
        return InputFile(path=path, data=opener(path))
    except (OSError, ValueError) as error:
        raise UsageError(not_opened(path, error)) from None


def not_opened(path: str, error: Exception) -> str:
    name = shown(path, 200)
    if isinstance(error, FileNotFoundError):
        return f"there is no file {name}"
    if isinstance(error, IsADirectoryError):
        return f"{name} is a folder; a layout is a file"
    if isinstance(error, PermissionError):
        return f"{name} may not be read: its permissions forbid it"
    reason = getattr(error, "strerror", None) or str(error)
    return f"{name} can't be read: {reason}"


def root_of(item: InputFile, r: Reading) -> Node | None:
    r.file_order.setdefault(item.path, len(r.file_order))
    text, faults = decoded(item.data, item.path)
    if not faults:
        node, faults = compose(text, item.path)
        r.findings.extend(faults)
        if node is None and not faults:
            r.fault("yaml-syntax", "the file is empty", Mark(item.path, 1, 1), hint="a layout begins with `layout: 1`")
        elif node is not None and not isinstance(node, Map):
            r.wrong(node, (), "a mapping that begins with `layout: 1` (a part file: with `parts:`)",
                    hint="`chassis_describe new NAME` writes a layout to start from")
            return None
        return node
    r.findings.extend(faults)
    return None


def beside(written: str, file: str) -> str:
    """A path as written in a file, from where the program runs. Standard input (``-``) counts as the working folder."""
    return written if posixpath.isabs(written) else posixpath.normpath(posixpath.join(posixpath.dirname(file), written))
