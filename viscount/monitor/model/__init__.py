"""What the monitor shows, without a window: told by a run or a recording, bounded in memory."""
