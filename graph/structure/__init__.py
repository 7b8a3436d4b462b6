"""What hangs together with what: ways from an output, and which device guards which part."""
