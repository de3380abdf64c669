"""The chips and scenes that come with vdpsim: found by name, from a checkout as from an installed wheel."""
