"""The nouns: frozen data that stages take and return.

World frame of everything sewn: the *top frame*, inches, origin at the upper-left corner of the
top's bounding box, x right, y down.  Points are ``(x, y)``; pictures are indexed ``[row, col]``;
pixel centres are integers.
"""
