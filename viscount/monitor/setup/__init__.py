"""Marking an outlet by hand: the model, without Qt. Frozen states, and functions from one to the
next; the view in `viscount.monitor.setup_view` only draws them and hands on what the user does.
"""
