"""Photo to top: reading, camera, seams, patches, sizes."""
