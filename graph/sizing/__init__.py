"""From checking to designing: sizes, settings, ways and the spread of loads, all held against the analysis."""
