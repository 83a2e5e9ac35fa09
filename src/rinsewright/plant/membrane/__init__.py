"""The membranes and the drain line behind them."""
