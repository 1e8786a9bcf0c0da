"""How a model is kept true: learned from a reference file, elicited, and measured."""
