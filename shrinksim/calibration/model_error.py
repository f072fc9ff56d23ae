"""Error of computed movements against steel, for formulas and for plans."""

MODEL_SIGMA = {"plate": 0.20, "I": 0.30}
"""Standard deviation of the model's error over the movement.  Plates: nine of twelve
vees came within 20 % of the published relation (README; the relation from memory).
I-sections: no published movement was found to compare with; our guess."""

LEAST_SPREAD = 0.3
"""Of a heat's largest movement: what the standard deviations refer to when it moves
less than that, since a small difference of large numbers is not known better."""
