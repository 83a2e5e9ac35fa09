"""The plant over hours, days and a year: water temperature, demand, tank, resin, cartridges; a ledger, never money."""
