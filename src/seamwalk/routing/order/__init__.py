"""The order of stitching: passes, their joins and sequence, and the choice among orders."""
