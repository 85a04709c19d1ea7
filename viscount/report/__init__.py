"""Plots and pictures of a run."""
