"""The bare plate as a closed solid in millimetres, for printing (binary STL)."""
from __future__ import annotations

import numpy as np

from chassis_describe.drawings.paper import MARK
from chassis_describe.drawings.views import DeckView
from chassis_describe.space.plate.mesh import plate_mesh, stl as write_stl


def stl(view: DeckView, under: bool) -> bytes:
    """x to the right, y to the deck's front, z up from the print bed; ``under``: turned over left to right, top face down."""
    metres = plate_mesh(view.facet.plate)
    x, y, z = metres[..., 0], metres[..., 1], metres[..., 2]
    turned = (y, x, -z) if under else (-y, x, z + float(np.float32(view.facet.plate.thickness)))
    return write_stl(np.stack(turned, axis=-1) * 1e3, f"{MARK}, millimetres")
