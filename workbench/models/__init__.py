"""Models: pure functions on arrays with frozen parameter sets. No files, clock or randomness."""
