"""The pages of the bench, one module each; every module lists its ROUTES."""
