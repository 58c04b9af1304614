"""The chapters that users read beside the README, the tables in them that the program writes, and how one is looked up."""
