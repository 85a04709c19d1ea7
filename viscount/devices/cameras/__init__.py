"""Sources of frames: recorded clips and stills."""
