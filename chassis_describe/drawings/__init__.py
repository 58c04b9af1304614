"""Assembly to pictures: views, and one format a file."""
