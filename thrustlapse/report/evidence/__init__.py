"""Pages of what all evidence of a machine says, and of what to find out next."""
