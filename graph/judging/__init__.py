"""What rules share: comparisons and the words of findings."""
