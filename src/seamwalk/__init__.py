"""From a photo of a pieced top to one continuous walking-foot stitch path."""

__version__ = "0.1.0"
