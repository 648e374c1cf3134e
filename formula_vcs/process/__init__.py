"""The process of a recipe by itself: simulated step by step, with the formulas of mixing."""
