"""What is said: the report as plain data, in words and as pages."""
