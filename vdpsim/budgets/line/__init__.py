"""The slots of a line, proved: what may be asked of them, the worst of it, and a bound on the rest."""
