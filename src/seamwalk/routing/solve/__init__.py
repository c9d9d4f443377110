"""The search for the least time: pairing, merging, improving, proof."""
