"""A comparison as a folder of results, figures, tables and a page with a verdict."""
