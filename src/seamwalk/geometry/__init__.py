"""Plane geometry in numpy and shapely; knows nothing of fabric."""
