"""Rules about amounts: totals, the balance, the recipe's own bounds."""
