"""Chips side by side: what their files say, what they cost, what they draw."""
