"""How long a rolling shutter takes from line to line: by bands of light, by the sensor's data, and
by what it makes of falling parts. In seconds, per row or column of the delivered picture."""
