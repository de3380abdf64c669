"""Flashes by the definition of WCAG 2.2: what a change is, and how changes add up to flashes."""
