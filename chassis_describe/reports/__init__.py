"""Values as text, JSON, Markdown, SARIF and JUnit. Prints nothing."""
