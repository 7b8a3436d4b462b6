"""What is given and what is reported: the harness with its typed parts, settings, findings and rows of results."""
