"""Pure: a frame to a sighting (background, foreground, regions, positions)."""
