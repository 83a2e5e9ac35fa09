"""From the tap to the membranes: supply, filters, softener, pump."""
