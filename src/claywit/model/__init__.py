"""What is known: the model of a tradition, read, checked and described."""
