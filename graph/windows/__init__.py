"""Setting windows of devices, and settings tried by the fault search before they are named."""
