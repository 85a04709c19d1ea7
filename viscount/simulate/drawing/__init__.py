"""Pictures of falling parts and of what else is in the view."""

from viscount.simulate.drawing.studio import Studio, Visible

__all__ = ["Studio", "Visible"]
