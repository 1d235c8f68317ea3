"""What a person reads off a bench: the readings, and the reduction of raw ones.

Nothing here knows a machine. Each reduction turns what an instrument showed into what happened:
readings of a rolling stand into thrust, frames or a tone into shaft speed, the suction behind a
plate with a hole into flow.
"""
