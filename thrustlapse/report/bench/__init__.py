"""Readings of a bench and what a fit makes of them: page, tables, words, figures."""
