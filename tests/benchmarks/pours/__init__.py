"""The parts of the bench over many pours: pour, record, lanes, figures, table."""
