"""What follows from a formula by arithmetic: totals, cost, origin, label, density, and the walk of the process."""
