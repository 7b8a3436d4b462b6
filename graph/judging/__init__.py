"""What rules share: faults on splices and switches, events, highest voltages, and the words of findings."""
