"""Bags of known content, and what is inferred of them."""
