"""One module per command; each has a ``command`` and does as little as it can itself."""
