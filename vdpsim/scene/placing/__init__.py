"""Where parts of memory that choose their own address can lie: plain numbers, bounded work."""
