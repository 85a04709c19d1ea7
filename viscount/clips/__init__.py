"""Container files: read with their own times, written so that a kill leaves them whole."""
