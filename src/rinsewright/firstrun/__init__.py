"""The first run: what this plant should read today, and what the readings say."""
