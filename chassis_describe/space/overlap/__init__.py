"""How deep two solids interpenetrate, and whether they do."""
