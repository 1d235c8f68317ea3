"""Scenario files: reading, positions of keys, includes, checking, editing, writing."""
