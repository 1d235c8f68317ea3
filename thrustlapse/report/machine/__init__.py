"""One machine laid open: figures, files and sentences."""
