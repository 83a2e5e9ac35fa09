"""One steady operating point of a plant, batch first."""
