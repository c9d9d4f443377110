"""Results to paper and screen."""
