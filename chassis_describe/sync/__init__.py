"""The user's own parameter files: the values in them that the geometry decides, and nothing else."""
