"""Files of readings: bench tables, flight logs, recordings, strobe readings."""
