"""A scene as material for the hardware side, and what hardware made of it held against the model."""
