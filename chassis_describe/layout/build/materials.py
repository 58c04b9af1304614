"""Densities of the sheet and stock materials that such robots are made of, kg/m³.

For prints these are the densities of the filament: a print that is not solid weighs less, so weigh it or give `density`.
"""
from __future__ import annotations

from collections.abc import Mapping

#: Name as the user writes it → density.
MATERIALS: Mapping[str, float] = {
    "PLA": 1240.0,  # FreeCAD material card PLA-Generic; Ultimaker fdm_materials generic_pla
    "PETG": 1270.0,  # Ultimaker fdm_materials generic_petg
    "ABS": 1060.0,  # FreeCAD material card ABS-Generic
    "acrylic": 1190.0,  # cast sheet, typical (from memory); FreeCAD's PMMA-Generic has 1170
    "polycarbonate": 1200.0,  # FreeCAD material card PC-Molded
    "nylon": 1150.0,  # FreeCAD material card PA6-Generic
    "POM": 1410.0,  # acetal copolymer, typical (from memory)
    "HDPE": 950.0,  # typical (from memory)
    "PVC foam board": 550.0,  # typical (from memory)
    "birch plywood": 680.0,  # birch plywood data sheets: 650 to 710 by thickness
    "MDF": 750.0,  # makeitfrom.com
    "cardboard": 700.0,  # solid board, typical (from memory)
    "aluminium": 2700.0,  # University Physics Vol. 1, OpenStax, table 14.1
    "steel": 7850.0,  # carbon steel (from memory); iron 7860 in University Physics Vol. 1, table 14.1
    "stainless steel": 7900.0,  # 18/8, typical (from memory)
    "brass": 8440.0,  # University Physics Vol. 1, OpenStax, table 14.1
    "copper": 8900.0,  # University Physics Vol. 1, OpenStax, table 14.1 (8.9e3)
    "FR-4": 1820.0,  # laminate data sheets, specific gravity 1.82
    "carbon fibre": 1550.0,  # FreeCAD material card Carbon-epoxy-generic-isotropic
    "rubber": 1100.0,  # typical (from memory)
}
_OTHER_NAMES = {"aluminum": "aluminium", "plywood": "birch plywood", "pmma": "acrylic",
                "pc": "polycarbonate", "pa6": "nylon", "polyamide": "nylon", "carbon fiber": "carbon fibre",
                "fr4": "FR-4", "g-10": "FR-4", "g10": "FR-4", "acetal": "POM"}
_BY_LOWER = {name.lower(): name for name in MATERIALS} | _OTHER_NAMES


def material(name: str, added: Mapping[str, float]) -> tuple[str, float] | None:
    """The name as the table has it and the density; the layout's own table is asked first, case does not matter."""
    if name in added:
        return name, added[name]
    plain = " ".join(name.lower().replace("_", " ").split())
    for own, density in added.items():
        if " ".join(own.lower().replace("_", " ").split()) == plain:
            return own, density
    known = _BY_LOWER.get(plain)
    return (known, MATERIALS[known]) if known is not None else None
