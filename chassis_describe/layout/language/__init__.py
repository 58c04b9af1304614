"""The words of the layout language: one table of fields for reader, schema and manual."""
