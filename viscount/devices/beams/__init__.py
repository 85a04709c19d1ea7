"""Sources of beam edges: recorded logs."""
