"""Pages as one PNG picture, one under the other. Needs the extra ``pictures`` (reportlab, pypdfium2).

The PDF is rendered with PDFium, which has the standard fonts of PDF built in: the picture does not depend on the machine's.
"""
from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence

import numpy as np

from chassis_describe.drawings.extra import needs_pictures
from chassis_describe.drawings.paper import MARK, Page
from chassis_describe.drawings.pdf import POINT, pdf

#: Dots per inch: fine enough to read names at 1:2 on a screen and on paper.
DPI = 150
_INCH = 25.4


def png(pages: Sequence[Page], title: str) -> bytes:
    """The picture, with its size in metres in a pHYs chunk."""
    with needs_pictures("png"):
        import pypdfium2

    document = pypdfium2.PdfDocument(pdf(pages, title))
    try:
        rows = [np.asarray(document[k].render(scale=DPI / _INCH / POINT, rev_byteorder=True).to_numpy())[..., :3]
                for k in range(len(document))]
    finally:
        document.close()
    wide = max(r.shape[1] for r in rows)
    gap = round(4.0 / _INCH * DPI)
    stacked = [np.pad(r, ((0, gap if k < len(rows) - 1 else 0), (0, wide - r.shape[1]), (0, 0)), constant_values=255)
               for k, r in enumerate(rows)]
    return encoded(np.concatenate(stacked))


def encoded(pixels: np.ndarray[tuple[int, int, int], np.dtype[np.uint8]]) -> bytes:
    """An RGB picture (rows, columns, 3) as a PNG (W3C PNG, second edition; every row with filter 0)."""
    height, width, _ = pixels.shape
    raw = np.concatenate([np.zeros((height, 1), np.uint8), pixels.reshape(height, width * 3)], axis=1).tobytes()
    per_metre = round(DPI / _INCH * 1000)
    return b"".join([
        b"\x89PNG\r\n\x1a\n", _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)),
        _chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)), _chunk(b"tEXt", b"Software\0" + MARK.encode("ascii")),
        _chunk(b"IDAT", zlib.compress(raw, 9)), _chunk(b"IEND", b"")])


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
