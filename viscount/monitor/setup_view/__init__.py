"""The window in which an outlet is marked: draws `viscount.monitor.setup`, decides nothing."""
