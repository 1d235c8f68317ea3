"""Axial fan stages from their dimensions: blade rows, annulus, stall limit, and their map."""
