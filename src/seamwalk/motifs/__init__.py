"""Patches and seam lines to strokes."""
