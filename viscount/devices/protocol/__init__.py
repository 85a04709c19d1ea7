"""The serial protocol that beam and gate boards share: its page is PROTOCOL.md in this folder."""
