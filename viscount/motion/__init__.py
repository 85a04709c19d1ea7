"""Pure: sightings to tracks to passages, by the law of the fall."""
