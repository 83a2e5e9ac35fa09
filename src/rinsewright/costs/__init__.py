"""What a year costs: prices applied to a ledger."""
