"""Adapters to files: case folders, surface files, whole folders written at once. Guards come before any library."""
