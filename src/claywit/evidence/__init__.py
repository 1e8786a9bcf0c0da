"""What was seen: the findings of one piece, with how sure and how measured."""
