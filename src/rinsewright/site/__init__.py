"""The site file: its keys, reading it with line numbers, checking it, building the plant it describes."""
