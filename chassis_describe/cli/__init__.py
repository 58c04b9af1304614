"""Arguments, printing and exit codes of the command."""
