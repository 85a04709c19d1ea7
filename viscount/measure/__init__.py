"""Pure: the frame clock, and what the passages measure."""
