"""Value change dumps: what is in them, which signal is what, and the records that they show."""
