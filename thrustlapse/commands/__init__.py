"""Commands in groups: parse, call, print; the ungrouped ones stand in cli.py."""
