"""The commands, one file each: parse, call, print. No rule of counting lives here."""
