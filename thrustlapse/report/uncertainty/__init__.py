"""How sure the answers are: figures, tables, words and their part of the results."""
