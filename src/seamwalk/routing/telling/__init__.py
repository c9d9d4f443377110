"""A route in words, what it saves, and why it has breaks."""
