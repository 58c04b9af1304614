"""Geometry and mechanics: poses, solids, plates, contact, overlap, sight. Has never heard of decks. SI."""
