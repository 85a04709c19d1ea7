"""The parts of the speed bench: stages of real clips, and streams without pictures."""
