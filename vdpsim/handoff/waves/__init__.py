"""A chip's time as a waveform."""
