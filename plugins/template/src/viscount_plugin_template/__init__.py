"""A plugin for viscount: one small detector, to start your own from."""
