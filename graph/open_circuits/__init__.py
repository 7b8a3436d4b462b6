"""One open circuit, or contacts that are not alike: what the paths beside it then carry."""
