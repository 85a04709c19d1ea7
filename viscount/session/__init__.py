"""The live run: one engine process, and the only concurrency in the program."""
