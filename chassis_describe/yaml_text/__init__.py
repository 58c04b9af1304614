"""YAML as text: read with places, edited byte by byte."""
