"""Pure: both counters of one run brought together, from a camera's tally and a beam's pulses."""
