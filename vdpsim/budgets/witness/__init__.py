"""A scene that shows what a budget tells: searched for, staged, dressed and drawn."""
