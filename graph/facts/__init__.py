"""Finding out everything about one harness that the rules look at: solved, rated, searched for faults."""
