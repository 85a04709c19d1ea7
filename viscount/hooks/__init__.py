"""The plugin interface: specifications, loading, validation, and our own built-ins."""
