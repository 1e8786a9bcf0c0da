"""What is kept: the only reader and writer of disk."""
