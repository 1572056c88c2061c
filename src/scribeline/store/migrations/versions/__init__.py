"""One file a change; each knows the one before it."""
