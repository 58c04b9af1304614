"""Text to Layout: well formed, references resolved, SI; nothing about geometry between parts."""
