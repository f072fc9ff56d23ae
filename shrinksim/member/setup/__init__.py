"""How a member lies for heating: supports, weights, jacks, and what they do."""
