"""What is shown in a window: marking an outlet by hand, and a run as it goes.

Every screen has a model without Qt, which knows what is shown, and a view, which draws it. Qt and
pyqtgraph are imported by the views alone, after `probe.require_window`: every command that opens
no window works where they are missing.
"""
