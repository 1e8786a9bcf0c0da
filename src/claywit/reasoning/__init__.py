"""What it means: which findings drove an answer and which spoke against it."""
