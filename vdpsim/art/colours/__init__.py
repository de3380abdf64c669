"""The colours that a chip has room for: art as it is, or colours chosen for it."""
