"""How many px a mm is: by gravity, by a part, by a ruler, by a checkerboard; each with its doubt.

All scales are along the fall, in px per mm, in the middle of the view; `change` is by how much the
scale grows over the view downstream, as a share of it.
"""
