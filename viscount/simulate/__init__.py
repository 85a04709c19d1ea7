"""Pours with known truth. Takes nothing from the rooms it judges."""
