"""Teaching the seam network: pictures of tops that never were, the network, the training.

Nothing here is needed to use seamwalk; it makes the weights that :mod:`seamwalk.vision` reads.
Geometry is drawn by worker processes (:mod:`tops`, :mod:`prints`, :mod:`views`), cloth and light
are laid on by :mod:`render` on a graphics card where there is one, and the same code gives the
same pictures without one.
"""
