"""What the airplane does: its figures, tables and sentences."""
