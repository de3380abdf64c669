"""Random pieces of chip and scene files, states and writes, each valid by the way it is made."""
