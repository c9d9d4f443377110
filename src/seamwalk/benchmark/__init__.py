"""Speed, memory and accuracy, measured and reported as they come."""
