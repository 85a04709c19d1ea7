"""The parts of the accuracy bench: cases, runs, judgement, summary, baseline, table."""
