"""The page that shows a robot: what is on it as plain data, the page itself, and the server that keeps it up to date."""
