"""Event lists of two counters with known truth, and what the pairing makes of them."""
