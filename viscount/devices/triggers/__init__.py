"""Gates: files of their measured strokes."""
