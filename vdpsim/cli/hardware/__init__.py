"""Commands for what crosses to the hardware side and back, a file each, by their names; the others stand in ``commands/``."""
