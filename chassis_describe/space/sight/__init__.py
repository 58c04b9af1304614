"""What a sensor sees: rays, scan planes, shadows, the floor."""
