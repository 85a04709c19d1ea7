"""The monitor's window: draws the model, and hears keys and clicks. Nothing is known here alone."""
