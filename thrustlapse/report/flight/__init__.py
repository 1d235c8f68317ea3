"""Flights through legs: figures, tables, sentences and their part of the results."""
