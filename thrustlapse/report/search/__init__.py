"""A search through many designs: page, files, figures, words, progress."""
