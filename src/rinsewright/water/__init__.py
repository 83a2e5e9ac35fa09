"""What is in the water: ions, equilibria, conductivity, osmotic pressure, scaling. Knows of no plant."""
