"""Layout to Assembly: every frame, body and joint in its place; a pure record."""
