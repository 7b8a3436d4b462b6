"""One way open, or contacts that are not alike: what the ways beside it then carry."""
