"""What follows from an Assembly, each worked out once and kept with it."""
