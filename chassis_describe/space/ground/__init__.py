"""The plane that rollers stand on, and what each contact carries."""
