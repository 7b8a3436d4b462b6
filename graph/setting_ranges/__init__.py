"""Setting ranges of devices, and settings tried by the fault search before they are named."""
