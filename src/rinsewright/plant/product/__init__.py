"""From the membranes to the brush: check valve, shut-off, lift, resin, tank."""
