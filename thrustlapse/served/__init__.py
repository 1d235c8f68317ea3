"""The page that a command serves on this machine alone: the solver behind every move."""
