"""Centrifugal machines from their dimensions: impeller, vaneless space, scroll, and their map."""
