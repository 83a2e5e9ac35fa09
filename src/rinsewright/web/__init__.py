"""The app: pages served on this machine, for the phone in the yard and the desk. Nothing here solves anything."""
