"""Strokes to one continuous route, with its bound and its audit."""
