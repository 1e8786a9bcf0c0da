"""What follows: exact probabilities from a model and the findings of a piece."""
