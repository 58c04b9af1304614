"""Boxes that cover a plate without its holes, for collision."""
