"""The KiCad side and the command line: reads files into a Drawing and a Drawing into a Harness."""
