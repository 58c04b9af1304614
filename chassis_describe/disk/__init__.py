"""Artifacts to disk, all or nothing; files replaced whole; files of a revision."""
