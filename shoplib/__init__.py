"""What a goldsmith's workshop earned, what limits it, and what to decide next."""

__version__ = "1.0.0"
