"""A drilled plate: exact area and moments with holes and crossing cutouts, depth at an edge, its mesh."""
