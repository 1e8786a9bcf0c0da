"""Commands that belong together: arguments, one call, a printed answer, an exit status."""
