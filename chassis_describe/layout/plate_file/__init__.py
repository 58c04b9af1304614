"""Plates that others drew: the curves of a DXF file → outline, cutouts and holes in the deck's axes."""
