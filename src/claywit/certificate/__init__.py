"""What is vouched for: a signed reasoning trace, and what a stranger can check of it."""
