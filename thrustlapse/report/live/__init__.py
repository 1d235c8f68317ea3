"""The moving part of a page: browser code, the scripts it inlines, its words."""
