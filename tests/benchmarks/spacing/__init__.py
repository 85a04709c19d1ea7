"""How well spacing is measured, and carried to other heights."""
