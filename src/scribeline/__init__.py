"""Scribeline: setting out, boring and checking solid-body guitars and basses."""
