"""Searches over many designs: what is asked, worked out in chunks, kept on disk, and summed up."""
