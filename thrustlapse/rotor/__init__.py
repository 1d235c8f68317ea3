"""What turns: dimensionless stage maps and propeller coefficients, wherever they come from."""
