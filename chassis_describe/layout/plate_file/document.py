"""A DXF file's bytes → a document of ezdxf, or what is wrong with them. Needs the extra ``dxf``.

What the file is, is asked before ezdxf is imported: that takes most of a second.
"""
from __future__ import annotations

import io
import re
from importlib import import_module
from typing import Any

from chassis_describe.errors import UsageError
from chassis_describe.layout.plate_file.faults import NoPlate, no_plate

#: How ezdxf says that it has thrown away what may be a curve of the plate.
_LOST = re.compile(r"(?:Removed|Deleted)(?: invalid| standalone)?(?: DXF)?(?: entity)? "
                   r"(?:LINE|CIRCLE|ARC|ELLIPSE|SPLINE|LWPOLYLINE|POLYLINE|INSERT)\b")
_SAVE = "save it from the drawing program as DXF (ASCII, any release from R12 on)"


def suffix_fault(path: str) -> NoPlate | None:
    """What is wrong with a file by its name alone: nothing else than ``.dxf`` is opened, since a layout may come from anywhere."""
    name = path.lower()
    if name.endswith(".dxf") and "://" not in path:
        return None
    if name.endswith(".dwg"):
        return no_plate("is a DWG drawing, which is not read", _SAVE)
    return no_plate("is not named as a plate file (.dxf)", f"a plate is drawn in a DXF file: {_SAVE}")


def document_of(data: bytes) -> tuple[Any, tuple[str, ...]]:
    """The document, and the faults of the file that ezdxf has mended. Raises NoPlate, also where it mends by leaving a curve out;
    UsageError where ezdxf is not installed."""
    _by_signature(data)
    try:
        recover: Any = import_module("ezdxf.recover")
    except ImportError as error:
        raise UsageError(f"a deck drawn in a DXF file needs {error.name or 'ezdxf'}, which is not installed: "
                         "pip install 'chassis_describe[dxf]'") from error
    import logging

    log = logging.getLogger("ezdxf")
    if not log.handlers:
        log.addHandler(logging.NullHandler())  # what it has to say of a file is counted below
    try:
        document, audit = recover.read(io.BytesIO(data))
    except Exception as error:  # bytes from anywhere: the library may stumble over them in any way
        raise no_plate(f"is no DXF file that can be read: {_first_line(error)}", _SAVE) from error
    if audit.errors:
        raise no_plate(f"is damaged: {_first_line(audit.errors[0].message)}", _SAVE)
    mended = tuple(dict.fromkeys(_first_line(fix.message).rstrip(".") for fix in audit.fixes))
    lost = [message for message in mended if _LOST.match(message)]
    if lost:
        raise no_plate(f"has {len(lost)} curve{'s' if len(lost) > 1 else ''} that can't be taken: {lost[0]}", _SAVE)
    return document, mended


def _by_signature(data: bytes) -> None:
    """Other formats by their first bytes, and a file that was cut off: ezdxf would take what is there for all."""
    if data.startswith(b"AutoCAD Binary DXF"):
        raise no_plate("is a binary DXF file", _SAVE)
    if re.match(rb"AC10[0-9][0-9]", data):
        raise no_plate("is a DWG drawing under another name", _SAVE)
    head = data[3:200] if data.startswith(b"\xef\xbb\xbf") else data[:200]
    if not re.match(rb"\s*(?:999[ \t]*\r?\n[^\n]*\n\s*)*0[ \t]*\r?\n[ \t]*SECTION", head) and not head.lstrip().startswith(b"999"):
        raise no_plate("is no DXF file: it does not begin with a section", _SAVE)
    if not re.search(rb"\n[ \t]*0[ \t]*\r?\n[ \t]*EOF\s*\Z", data[-200:]):
        raise no_plate("ends too early: the line `EOF` is missing, so curves may be missing as well", "export or copy it again")


def _first_line(error: object) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0][:200]
