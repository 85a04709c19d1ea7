"""A look at a recording: what in it would spoil a count."""
