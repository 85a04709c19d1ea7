"""What touches the outside while running."""
