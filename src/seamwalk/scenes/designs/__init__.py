"""Pieced designs as ideal polygons, one family a file."""
