"""The tables of a scenario file: their keys, rules and checks."""
