"""Points and outlines in a plane: hulls, simplified outlines, least circles."""
