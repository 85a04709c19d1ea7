"""Pure: what several counters make of the same parts."""
