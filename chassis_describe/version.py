"""The version, in the one place that setup.py and every written package take it from (package.xml repeats it)."""

VERSION = "0.1.0"
