"""Climate windows for people who grow food."""
