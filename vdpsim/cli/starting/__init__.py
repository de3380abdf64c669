"""Commands of the first hour, a file each, by their names; the others stand in ``commands/`` and ``hardware/``."""
