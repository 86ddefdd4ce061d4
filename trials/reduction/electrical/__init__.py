"""Reducers for small sources of electricity, such as hand-made solar cells."""
