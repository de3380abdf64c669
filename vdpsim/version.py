"""The version of vdpsim.

Law: it stands here once, for the package's metadata, the command line and a sweep's journal.
"""

__version__ = "0.11.2"
