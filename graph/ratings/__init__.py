"""Rating tables and bases: what a conductor or contact is allowed to carry, with the source of every number."""
