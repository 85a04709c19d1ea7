"""The conformance kit for authors of plugins: plain functions that take a maker."""
