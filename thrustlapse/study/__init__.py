"""The questions people ask: lapse, comparison, nozzle size, limits."""
