"""The whole member: measured shape, supports and weight, the plan of heats."""
