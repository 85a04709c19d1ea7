"""Pure: what the gate's strokes make of the stream."""
