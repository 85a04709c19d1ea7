"""Pure: edges of the beam to pulses, and pulses to parts by what one part looks like."""
