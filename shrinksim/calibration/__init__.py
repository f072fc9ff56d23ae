"""A formula for quick estimates, fitted to computed heats."""
